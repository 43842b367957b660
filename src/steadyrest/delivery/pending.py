"""What a delivery was about to do: kept beside the log until its line is there, so that one that died in between is told by the next."""

from __future__ import annotations

import hashlib
import json
import os
import secrets
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from steadyrest.delivery.log import add
from steadyrest.errors import OutputError, Place
from steadyrest.writing.held import hold, is_left


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
        wrong = f"what is about to be delivered cannot be noted: {error.strerror or error}"
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
            if _digest(target) == digest:
                add(log, f"{line} found=later")
                told.append(f"the delivery of {when} died before it was logged: {target} is there, whole, and its line was added now")
            else:
                told.append(f"the delivery of {when} died: {target} is not the program that was meant. LOOK AT IT before you run it")
        with suppress(OSError):
            file.unlink()
    return tuple(told)


def _digest(target: Path) -> str:
    """SHA-256 of a file, in hexadecimal; nothing where it cannot be read."""
    try:
        return hashlib.sha256(target.read_bytes()).hexdigest() if target.is_file() else ""
    except OSError:
        return ""
