"""The log of deliveries: one line each, with the time, the program's digest and the profile, and nobody's name."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from steadyrest.errors import OutputError, Place
from steadyrest.profile import own_folder


def log_file() -> Path:
    """The log, unless another one is named."""
    return own_folder("state") / "deliveries.log"


def log_line(when: datetime, facts: Mapping[str, str]) -> str:
    """`2026-11-24T23:20:48+00:00 digest=... profile=...`: the time first, then the facts; those with spaces or the like in quotes."""
    said = [f"{key}={value if _plain(value) else json.dumps(value)}" for key, value in facts.items()]
    return " ".join([when.isoformat(timespec="seconds"), *said])


def _plain(value: str) -> bool:
    return value.isascii() and value.isprintable() and not any(each in value for each in ' "=')


def opened(log: Path) -> None:
    """Make sure that the log can be added to, before anything is delivered. OutputError where it cannot."""
    try:
        log.parent.mkdir(parents=True, exist_ok=True)
        with open(log, "ab"):
            pass
    except OSError as error:
        raise _error(error, log) from None


def add(log: Path, line: str) -> None:
    """Add a line. OutputError where that fails."""
    try:
        with open(log, "ab") as file:
            file.write(line.encode("utf-8") + b"\n")
    except OSError as error:
        raise _error(error, log) from None


def _error(error: OSError, log: Path) -> OutputError:
    return OutputError(f"the log cannot be written: {error.strerror or error}", place=Place(file=str(log)), cure="name another: --log FILE")
