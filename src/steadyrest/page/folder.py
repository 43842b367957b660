"""Which files may the page read and write? Those below the folder that it was given, whatever an address or a name says."""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from steadyrest.errors import InputError, OutputError, Place
from steadyrest.writing import put_in_place

MOST_FILES = 5_000
"""Listed of a folder, and looked at."""
DEEPEST = 4
"""Folders below the one that was given, of which files are listed."""
_WINDOWS = re.compile(r"(?:con|prn|aux|nul|com[1-9]|lpt[1-9])(?:\..*)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Folder:
    """A folder that the user gave, as it really is: absolute, without links."""

    path: Path

    @classmethod
    def given(cls, path: Path) -> Folder:
        """InputError where there is no such folder."""
        if not path.is_dir():
            raise InputError("there is no such folder", place=Place(file=str(path)), cure="name the folder of your parts, or make it first")
        return cls(Path(os.path.realpath(path)))

    def file(self, name: str) -> Path:
        """The file of that name, relative to the folder, which need not be there. InputError for a name that leads out of it."""
        wrong = InputError(
            f"{name!r} is not in the folder {self.path}", cure="choose a file in that folder, or start the page in the folder of your file"
        )
        if not name or "\0" in name or "\\" in name or len(name) > 1_000:
            raise wrong
        found = Path(os.path.realpath(self.path / name))
        if found == self.path or not found.is_relative_to(self.path):
            raise wrong
        return found

    def holds(self, file: Path) -> bool:
        """Whether a file, links followed, is below the folder."""
        return Path(os.path.realpath(file)).is_relative_to(self.path)

    def name(self, file: Path) -> str:
        """How the file is called in addresses and on the page: relative to the folder, with `/`."""
        return Path(os.path.realpath(file)).relative_to(self.path).as_posix()

    def files(self) -> list[Path]:
        """The plain files in it and below, hidden ones left out, in the order of their names; at most `MOST_FILES`."""
        found: list[Path] = []
        for here, folders, files in os.walk(self.path):
            deep = len(Path(here).relative_to(self.path).parts)
            folders[:] = sorted(each for each in folders if not each.startswith(".") and deep < DEEPEST)
            found += [
                Path(here, each) for each in sorted(files) if not each.startswith(".") and not os.path.islink(os.path.join(here, each))
            ]
            if len(found) > MOST_FILES:
                break
        return sorted(found[:MOST_FILES])

    def keep(self, name: str, content: bytes, *, replace: bool = False) -> Path:
        """Put a file that was dropped on the page into the folder, in one step.

        name      its own name; folders in front of it are left out
        replace   whether a file of that name may be replaced; one that holds the same bytes already needs nobody's leave
        raises    InputError for a name that no plain file has, and where another file has that name
        """
        plain = unicodedata.normalize("NFC", name.replace("\\", "/").rpartition("/")[2]).strip()
        if not plain or plain.startswith(".") or not plain.isprintable() or set(plain) & set('<>:"|?*') or _WINDOWS.fullmatch(plain):
            raise InputError(f"{name!r} is no name for a file", cure="give the file a name of letters, digits, - and _")
        path = self.file(plain)
        if path.exists() and not replace and not (path.is_file() and path.read_bytes() == content):
            raise OutputError("there is another file of that name", place=Place(file=plain), cure="rename one of the two, or replace it")
        put_in_place([content], path).commit()
        return path


def file_digest(file: Path) -> str:
    """SHA-256 of a file's bytes, worked out anew only where its time or size changed; `absent` where it cannot be read."""
    try:
        known = file.stat()
        return _digest(str(file), known.st_mtime_ns, known.st_size, known.st_ino)
    except OSError:
        return "absent"


@lru_cache(maxsize=1_000)
def _digest(file: str, *stamp: int) -> str:
    with open(file, "rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()
