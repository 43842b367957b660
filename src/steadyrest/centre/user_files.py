"""Small TOML files in the user's own configuration folder: read, kept from other processes, written whole."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from steadyrest.errors import InputError, Place
from steadyrest.profile import user_folder
from steadyrest.toml_text import parse_toml
from steadyrest.writing import alone, put_in_place


def user_file(name: str) -> Path:
    """The file of that name; it need not exist."""
    return user_folder().parent / name


def read_table(file: Path, what: str, cure: str) -> dict[str, Any]:
    """Its tables, none where there is no such file. InputError: what cannot be read, and the cure."""
    try:
        return parse_toml(file.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"{what} cannot be read: {error}", place=Place(file=str(file)), cure=cure) from None


@contextmanager
def kept_alone(file: Path) -> Iterator[None]:
    """While no other process reads it to write it anew; its folder is made where there is none."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"the folder cannot be made: {error.strerror}", place=Place(file=str(file.parent))) from None
    with alone(file):
        yield


def write(file: Path, text: str) -> None:
    """The file anew, whole or not at all. OutputError where it cannot be written."""
    with put_in_place([text.encode("utf-8")], file) as placed:
        placed.commit()
