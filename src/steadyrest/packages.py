"""What do other installed packages offer, by their entry points?"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from functools import cache
from importlib.machinery import PathFinder
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint


def offered(group: str) -> Sequence[EntryPoint]:
    """The entry points of a group, by name; asked once for each search path of Python, because files of every package are read for it."""
    return _offered(group, tuple(sys.path))


def package_of(point: EntryPoint) -> str:
    """The package of an entry point and its version, as messages say it."""
    return f"package {point.dist.name} {point.dist.version}" if point.dist is not None else "a package without a name"


@cache
def _offered(group: str, path: tuple[str, ...]) -> Sequence[EntryPoint]:
    if not _may_be_named(group, path):
        return ()
    from importlib.metadata import entry_points

    return sorted(entry_points(group=group), key=lambda each: (each.name, each.value))


def _may_be_named(group: str, path: Sequence[str]) -> bool:
    """Whether a package may have entry points of a group: to import and to ask the standard library takes 20 ms, for nearly always nothing.

    True as well for whatever is no plain folder of packages: archives, eggs, and finders that know packages of their own.
    """
    if any(hasattr(finder, "find_distributions") for finder in sys.meta_path if finder is not PathFinder):
        return True
    for folder in path:
        try:
            inside = os.listdir(folder or ".")
        except NotADirectoryError:
            return True
        except OSError:
            continue
        for name in inside:
            with suppress(OSError):
                known = name.lower().endswith((".dist-info", ".egg-info"))
                if known and group.encode() in Path(folder, name, "entry_points.txt").read_bytes():
                    return True
    return any(folder.lower().rstrip(os.sep).endswith(".egg") for folder in path)
