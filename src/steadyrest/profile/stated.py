"""What does one controller.toml state, and on which line?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from steadyrest.errors import ProfileError
from steadyrest.toml_text import line_of as line_in
from steadyrest.toml_text import read_toml as read

FILE_NAME = "controller.toml"

Table = dict[str, Any]


def read_toml(file: Path) -> Table:
    """The tables of a profile's file. Raises ProfileError: not there, not readable, not UTF-8, or not TOML (with line and column)."""
    _, table = read(
        file,
        ProfileError,
        absent=f"a profile is a folder with a {FILE_NAME} in it",
        such_as='spaces = true or extension = ".nc", under headings such as [words]',
    )
    return table


def line_of(file: Path, dotted: str) -> int | None:
    """The line of a key in a file, or of the nearest table that holds it; None when it is not there."""
    try:
        return line_in(file.read_text(encoding="utf-8-sig"), dotted.split("."))
    except (OSError, UnicodeDecodeError):
        return None
