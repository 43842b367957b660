"""Where do the profiles and templates that come with steadyrest lie, and where does a user keep their own?"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from steadyrest.errors import ProfileError

PACKAGE = Path(__file__).resolve().parents[1]
CHECKOUT = Path(__file__).resolve().parents[3]


def shipped_folder(name: str) -> Path:
    """`controllers` or `templates` as they ship: in a checkout those of its root, else those inside the installed package.

    Raises ProfileError when neither is there: the installation is damaged.
    """
    in_checkout = CHECKOUT / name
    if in_checkout.is_dir() and (CHECKOUT / "pyproject.toml").is_file():
        return in_checkout
    installed = PACKAGE / name
    if installed.is_dir():
        return installed
    raise ProfileError(f"the folder {name} is missing beside {PACKAGE}", cure="install steadyrest again")


def bundled_folder() -> Path:
    """The folder of the profiles that come with steadyrest."""
    return shipped_folder("controllers")


def shared_templates_folder() -> Path:
    """The folder of the templates that all profiles share."""
    return shipped_folder("templates")


def user_folder() -> Path:
    """The folder of the user's own profiles; it need not exist. XDG base directories, %APPDATA% on Windows."""
    if sys.platform == "win32":
        return Path(os.environ.get("APPDATA") or Path.home() / "AppData" / "Roaming") / "steadyrest" / "controllers"
    stated = os.environ.get("XDG_CONFIG_HOME", "")
    base = Path(stated) if Path(stated).is_absolute() else Path.home() / ".config"
    return base / "steadyrest" / "controllers"
