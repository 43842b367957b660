"""Which folder is meant by the name of a profile?"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from steadyrest.errors import Place, ProfileError
from steadyrest.model_errors import nearest
from steadyrest.profile.places import bundled_folder, user_folder
from steadyrest.profile.stated import FILE_NAME

GROUP = "steadyrest.controllers"
"""Entry points of installed packages: each names a module whose folder holds profile folders."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A folder with a profile in it, or an entry point that leads to none."""

    name: str
    where: str
    folder: Path | None
    error: str = ""


def candidates() -> Iterator[Candidate]:
    """All profiles that have a name, those that win a clash first: the user's own, then the bundled ones, then packages.

    The user's own file says what the shop means by a name, so no later version of steadyrest and no package can change that.
    """
    yield from _inside(user_folder(), "user configuration")
    yield from _inside(bundled_folder(), "bundled")
    yield from _packaged()


def folder_of(said: str) -> Path:
    """The folder of a profile by its name, or by a path to the folder or to its controller.toml.

    Raises ProfileError for an unknown name (with the nearest ones and all of them) and for a path that leads nowhere.
    """
    if _is_path(said):
        return _at_path(_expanded(said))
    if (named := _named(said)) is not None:
        return named
    here = Path(said)
    if said.strip() and _holds_profile(here):
        return here
    raise unknown_name(said, Place())


def folder_of_parent(said: str, child: Path, place: Place) -> Path:
    """The folder of a parent: a path from the child's folder, or a name; a folder beside the child comes before all others."""
    if _is_path(said):
        return _at_path(child / _expanded(said), place)
    beside = child.parent / said
    if _holds_profile(beside):
        return beside
    if (named := _named(said)) is not None:
        return named
    raise unknown_name(said, place)


def _named(said: str) -> Path | None:
    """The folder of the profile that has this name, looked up and not searched for among all: a shop may have a thousand."""
    for folder in (user_folder(), bundled_folder()):
        if said.strip() and _holds_profile(folder / said):
            return folder / said
    return next((found.folder for found in _packaged() if found.name == said and found.folder is not None), None)


def unknown_name(said: str, place: Place) -> ProfileError:
    """The error for a name that no profile has."""
    names = sorted({found.name for found in candidates() if found.folder is not None})
    guess = said_names("perhaps you mean", nearest(said, names))
    return ProfileError(
        f"there is no profile called {said!r}",
        place=place,
        cure="; ".join(filter(None, [guess, "there are " + ", ".join(names), "or give the path of a profile's folder"])),
    )


def said_names(lead: str, names: list[str]) -> str:
    """A lead and names as part of a sentence; empty when there are none."""
    return f"{lead} {' or '.join(names)}" if names else ""


def _is_path(said: str) -> bool:
    separators = {"/", os.sep, os.altsep or "/"}
    return said in (".", "..") or said.startswith("~") or said.endswith(".toml") or any(each in said for each in separators)


def _at_path(path: Path, place: Place | None = None) -> Path:
    folder = path.parent if path.name == FILE_NAME else path
    if not _holds_profile(folder):
        raise ProfileError(
            f"there is no {FILE_NAME} in {folder}" if os.path.isdir(folder) else f"there is no folder {folder}",
            place=place if place is not None else Place(file=str(path)),
            cure=f"give the folder that holds the {FILE_NAME}, or the name of a profile",
        )
    return folder


def _holds_profile(folder: Path) -> bool:
    return os.path.isfile(folder / FILE_NAME)  # False, never an error, for what cannot be looked at


def _expanded(said: str) -> Path:
    return Path(os.path.expanduser(said))


def _inside(folder: Path, where: str) -> Iterator[Candidate]:
    try:
        inside = sorted(folder.iterdir())
    except OSError:
        return
    for each in inside:
        if _holds_profile(each):
            yield Candidate(each.name, where, each)


def _packaged() -> Iterator[Candidate]:
    from importlib.metadata import entry_points  # slow to import and to ask: only where no other place has the name
    from importlib.util import find_spec

    for point in sorted(entry_points(group=GROUP), key=lambda each: (each.name, each.value)):
        package = f"package {point.dist.name} {point.dist.version}" if point.dist is not None else "package"
        try:
            spec = find_spec(point.module)
        except (KeyboardInterrupt, MemoryError):
            raise
        except BaseException as error:  # a package that is not ours may raise anything, and must not take the others down
            yield Candidate(point.name, package, None, f"module {point.module}: {type(error).__name__}: {error}")
            continue
        folders = list(spec.submodule_search_locations or []) if spec is not None else []
        if not folders:
            wrong = "is not there" if spec is None else "is not a package with a folder"
            yield Candidate(point.name, package, None, f"module {point.module} {wrong}")
            continue
        inside = [found for folder in folders for found in _inside(Path(folder), package)]
        if not inside:
            yield Candidate(point.name, package, None, f"no folder in module {point.module} holds a {FILE_NAME}")
        yield from inside
