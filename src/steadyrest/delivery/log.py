"""The log of deliveries: one line each, with the time, the program's digest and the profile, and nobody's name.

What a delivery is about to do is kept beside the log until its line is there, so that one that died in between is told by the next.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from steadyrest.delivery.share import digest_of
from steadyrest.errors import OutputError, Place
from steadyrest.profile import own_folder
from steadyrest.writing import hold, is_left


def log_file() -> Path:
    """The log, unless another one is named."""
    return own_folder("state") / "deliveries.log"


def log_line(when: datetime, facts: Mapping[str, str]) -> str:
    """`2026-11-24T23:20:48+00:00 digest=... profile=...`: the time first, then the facts; those with spaces or the like in quotes."""
    said = [f"{key}={value if _plain(value) else json.dumps(value)}" for key, value in facts.items()]
    return " ".join([when.isoformat(timespec="seconds"), *said])


def _plain(value: str) -> bool:
    return value.isascii() and value.isprintable() and not any(each in value for each in ' "=')


def add(log: Path, line: str = "") -> None:
    """Add a line; without one only make sure that one can be added. OutputError where that fails."""
    try:
        log.parent.mkdir(parents=True, exist_ok=True)
        with open(log, "ab") as file:
            file.write(line.encode("utf-8") + b"\n" if line else b"")
    except OSError as error:
        wrong = f"the log cannot be written: {error.strerror or error}"
        raise OutputError(wrong, place=Place(file=str(log)), cure="name another log: --log FILE") from None


@dataclass(slots=True)
class Pending:
    """A delivery under way: its file, held open."""

    file: Path
    _held: int

    def done(self) -> None:
        """Its line is in the log, or it has told itself what went wrong."""
        if self._held >= 0:
            os.close(self._held)
            self._held = -1
            with suppress(OSError):
                self.file.unlink()


def begin(log: Path, line: str, target: Path, digest: str) -> Pending:
    """Keep what is about to be delivered: the line of the log, the place, the digest. OutputError where that cannot be written."""
    file = log.with_name(f".{log.name}-{secrets.token_hex(4)}.pending")
    said = json.dumps({"line": line, "target": str(target), "digest": digest}).encode("ascii")
    try:
        descriptor = os.open(file, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o666)
        hold(descriptor)
        os.write(descriptor, said)
        os.fsync(descriptor)
    except OSError as error:
        wrong = f"the delivery cannot be noted in advance: {error.strerror or error}"
        raise OutputError(wrong, place=Place(file=str(log)), cure="name another log: --log FILE") from None
    return Pending(file, descriptor)


def broken_off(log: Path) -> tuple[str, ...]:
    """A sentence for each delivery that died before its line was in the log, and the line of one that had put its program in place."""
    told: list[str] = []
    for file in sorted(log.parent.glob(f".{log.name}-*.pending")):
        if not is_left(file):
            continue
        try:
            said = json.loads(file.read_bytes())
            line, target, digest = str(said["line"]), Path(said["target"]), str(said["digest"])
        except (OSError, ValueError, KeyError, TypeError):
            line, target, digest = "", log, ""  # it died before it had noted anything, and so before it did anything
        if line:
            when = line.split()[0]
            try:
                there = target.is_file() and digest_of(target) == digest
            except OSError:
                there = False
            if there:
                add(log, f"{line} found=later")
                told.append(
                    f"the delivery of {when} was broken off before it was logged: {target} is there and complete; its line was added now"
                )
            else:
                told.append(
                    f"the delivery of {when} was broken off: {target} is not the program to be delivered. CHECK IT before you run it"
                )
        with suppress(OSError):
            file.unlink()
    return tuple(told)
