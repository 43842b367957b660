"""Where do profiles lie, which folder is meant by a name, and what does one controller.toml state?"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any, Literal

from steadyrest.errors import Place, ProfileError
from steadyrest.model_errors import nearest
from steadyrest.packages import offered, package_of
from steadyrest.toml_text import line_of as line_in
from steadyrest.toml_text import read_toml as read

FILE_NAME = "controller.toml"

Table = dict[str, Any]


def read_toml(file: Path) -> Table:
    """The tables of a profile's file. Raises ProfileError: not there, not readable, not UTF-8, or not TOML (with line and column)."""
    such_as = 'spaces = true or extension = ".nc", under headings such as [words]'
    return read(file, ProfileError, absent=f"a profile is a folder with a {FILE_NAME} in it", such_as=such_as)[1]


def line_of(file: Path, dotted: str) -> int | None:
    """The line of a key in a file, or of the nearest table that holds it; None when it is not there."""
    try:
        return line_in(file.read_text(encoding="utf-8-sig"), dotted.split("."))
    except (OSError, UnicodeDecodeError):
        return None


_OWN = {"config": ("XDG_CONFIG_HOME", "APPDATA", ".config"), "state": ("XDG_STATE_HOME", "LOCALAPPDATA", ".local/state")}
PACKAGE = Path(__file__).resolve().parents[1]
CHECKOUT = Path(__file__).resolve().parents[3]


def shipped_folder(name: str, within: str = "") -> Path:
    """A folder as it ships, such as `controllers`: in a checkout that of its root, or `within` a folder there, else that of the package.

    Raises ProfileError when neither is there: the installation is damaged.
    """
    in_checkout, installed = CHECKOUT / within / name, PACKAGE / name
    if in_checkout.is_dir() and (CHECKOUT / "pyproject.toml").is_file():
        return in_checkout
    if installed.is_dir():
        return installed
    raise ProfileError(f"the folder {name} is missing beside {PACKAGE}", cure="install steadyrest again")


def bundled_folder() -> Path:
    """The folder of the profiles that come with steadyrest."""
    return shipped_folder("controllers")


def shared_templates_folder() -> Path:
    """The folder of the templates that all profiles share."""
    return shipped_folder("templates")


def own_folder(kind: Literal["config", "state"]) -> Path:
    """The user's own folder of steadyrest, for settings or for what its commands keep; it need not exist.

    XDG base directories, %APPDATA% and %LOCALAPPDATA% on Windows, the Library on a Mac, by platformdirs. Where only the folder of the XDG
    base directories is there, which was used on a Mac before, that is meant.
    """
    xdg, windows, before = _OWN[kind]
    stated = Path(os.environ.get(windows if sys.platform == "win32" else xdg, ""))
    if stated.is_absolute():
        return stated / "steadyrest"
    if sys.platform not in ("win32", "darwin"):
        return Path.home() / before / "steadyrest"
    from platformdirs import user_config_path, user_state_path

    given = user_config_path if kind == "config" else user_state_path
    found, former = given("steadyrest", appauthor=False, roaming=kind == "config"), Path.home() / before / "steadyrest"
    return former if former.is_dir() and not found.is_dir() else found


def user_folder() -> Path:
    """The folder of the user's own profiles; it need not exist."""
    return own_folder("config") / "controllers"


GROUP = "steadyrest.controllers"
"""Entry points of installed packages: each names a module whose folder holds profile folders."""


@dataclass(frozen=True, slots=True)
class FoundProfile:
    """A profile that can be named, or what is wrong with it.

    name        the folder's name; of an entry point that leads nowhere, the entry point's
    where       "user configuration", "bundled", or "package NAME VERSION"
    folder      None where an entry point leads to no folder
    speaks      what it says of itself; empty when broken
    error       why it cannot be used; empty when it can
    hidden_by   where the profile is that the name means instead; empty when it means this one
    """

    name: str
    where: str
    folder: Path | None
    speaks: str = ""
    error: str = ""
    hidden_by: str = ""


def candidates() -> Iterator[FoundProfile]:
    """All profiles that have a name, not read yet, those that win a clash first: the user's own, then the bundled ones, then packages.

    The user's own file says what the shop means by a name, so no later version of steadyrest and no package can change that.
    """
    yield from _inside(user_folder(), "user configuration")
    yield from _inside(bundled_folder(), "bundled")
    yield from _packaged()


def folder_of(said: str, child: Path | None = None) -> Path:
    """The folder of a profile by its name, or by a path to the folder or to its controller.toml.

    A name is looked up and not searched for among all, as a shop may have a thousand; a folder here that bears it comes last.

    child    the profile of which it is the parent: a path counts from its folder, and a folder beside it comes before all others
    raises   ProfileError for an unknown name (with the nearest ones and all of them) and for a path that leads nowhere
    """
    if _is_path(said):
        return _at_path((child or Path()) / os.path.expanduser(said))
    beside = [child.parent] if child is not None else []
    known = (folder / said for folder in (*beside, user_folder(), bundled_folder()) if said.strip())
    packaged = (found.folder for found in _packaged() if found.name == said and found.folder is not None)
    here = [Path(said)] if child is None and said.strip() else []
    for folder in chain(known, packaged, here):
        if _holds_profile(folder):
            return folder
    names = sorted({found.name for found in candidates() if found.folder is not None})
    guess = said_names("did you mean", nearest(said, names))
    cure = "; ".join(filter(None, [guess, "installed are " + ", ".join(names), "or give the path of a profile's folder"]))
    raise ProfileError(f"there is no profile called {said!r}", cure=cure)


def said_names(lead: str, names: list[str]) -> str:
    """A lead and names as part of a sentence; empty when there are none."""
    return f"{lead} {' or '.join(names)}" if names else ""


def _is_path(said: str) -> bool:
    separators = {"/", os.sep, os.altsep or "/"}
    return said in (".", "..") or said.startswith("~") or said.endswith(".toml") or any(each in said for each in separators)


def _at_path(path: Path) -> Path:
    folder = path.parent if path.name == FILE_NAME else path
    if not _holds_profile(folder):
        raise ProfileError(
            f"there is no {FILE_NAME} in {folder}" if os.path.isdir(folder) else f"there is no folder {folder}",
            place=Place(file=str(path)),
            cure=f"give the folder that holds the {FILE_NAME}, or the name of a profile",
        )
    return folder


def _holds_profile(folder: Path) -> bool:
    return os.path.isfile(folder / FILE_NAME)  # False, never an error, for what cannot be looked at


def _inside(folder: Path, where: str) -> Iterator[FoundProfile]:
    try:
        inside = sorted(folder.iterdir())
    except OSError:
        return
    for each in inside:
        if _holds_profile(each):
            yield FoundProfile(each.name, where, each)


def _packaged() -> Iterator[FoundProfile]:
    from importlib.util import find_spec

    for point in offered(GROUP):
        package = package_of(point)
        inside: list[FoundProfile] = []
        try:
            spec = find_spec(point.module)
            folders = list(spec.submodule_search_locations or []) if spec is not None else []
            wrong = "is not there" if spec is None else f"is no package with a folder that holds a {FILE_NAME}"
            inside = [found for folder in folders for found in _inside(Path(folder), package)]
        except (KeyboardInterrupt, MemoryError):
            raise
        except BaseException as error:  # a package that is not ours may raise anything, and must not take the others down
            wrong = f"cannot be used: {type(error).__name__}: {error}"
        yield from inside or [FoundProfile(point.name, package, None, error=f"module {point.module} {wrong}")]
