"""Where are the toolpaths that every profile is tried on, and what do they hold?"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from steadyrest.errors import ProfileError
from steadyrest.profile.places import CHECKOUT, PACKAGE
from steadyrest.toolpath import Toolpath, load_toolpath

ENDING = ".toolpath.json"


def tour_folder() -> Path:
    """The folder of the tour: in a checkout the one of its golden files, else the one inside the installed package.

    Raises ProfileError when neither is there: the installation is damaged.
    """
    in_checkout = CHECKOUT / "tests" / "golden" / "tour"
    if in_checkout.is_dir() and (CHECKOUT / "pyproject.toml").is_file():
        return in_checkout
    installed = PACKAGE / "tour"
    if installed.is_dir():
        return installed
    raise ProfileError(f"the toolpaths of the tour are missing beside {PACKAGE}", cure="install steadyrest again")


def tour() -> dict[str, Toolpath]:
    """The toolpaths of the tour by their names: every intent, every axis, both units, arcs, cycles, more turns than most travels."""
    return dict(_tour(tour_folder()))


@cache
def _tour(folder: Path) -> dict[str, Toolpath]:
    return {file.name.removesuffix(ENDING): load_toolpath(file) for file in sorted(folder.glob(f"*{ENDING}"))}
