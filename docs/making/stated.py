"""What do the bundled profiles state, on which line, and which source do they give for it?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from steadyrest.profile import Profile, ResolvedProfile, bundled_folder, resolve
from steadyrest.profile.files import FILE_NAME
from steadyrest.profile_tools import ABSENT, Absent, said, sources_in, value_of
from steadyrest.profile_tools.checks import stated_keys
from steadyrest.toml_text import lines_of_keys

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True)
class Statement:
    """One setting as one profile states it: the value as TOML, the comment behind it, and what the parent has instead."""

    profile: str
    key: str
    toml: str
    source: str
    parent_toml: str


@dataclass(frozen=True, slots=True)
class Bundled:
    """A bundled profile: what it states, and the comment at the head of its file."""

    name: str
    resolved: ResolvedProfile
    head: str
    statements: tuple[Statement, ...]

    @property
    def profile(self) -> Profile:
        """With all that it inherits."""
        return self.resolved.profile


@cache
def bundled() -> tuple[Bundled, ...]:
    """The bundled profiles, the reference first, the others by name."""
    folders = sorted(file.parent for file in bundled_folder().glob(f"*/{FILE_NAME}"))
    return tuple(_bundled(folder) for folder in sorted(folders, key=lambda folder: (folder.name != "rs274ngc", folder.name)))


def _bundled(folder: Path) -> Bundled:
    resolved = resolve(folder)
    text = (folder / FILE_NAME).read_text(encoding="utf-8-sig")
    lines, sources = lines_of_keys(text), sources_in(text)
    parent = resolve(resolved.chain[1]).profile if len(resolved.chain) > 1 else None
    head = " ".join(line.lstrip("# ") for line in _head(text))
    keys = [key for key in stated_keys(folder) if key != "speaks"]
    statements = [
        Statement(folder.name, key, _toml(resolved.profile, key), sources.get(lines.get(key, 0), ""), _toml(parent, key)) for key in keys
    ]
    return Bundled(folder.name, resolved, head, tuple(statements))


def _toml(profile: Profile | None, key: str) -> str:
    value: Any = value_of(profile, key) if profile is not None else ABSENT
    return "" if isinstance(value, Absent) else said(value)


def _head(text: str) -> list[str]:
    lines = text.splitlines()
    end = next((at for at, line in enumerate(lines) if not line.startswith("#")), len(lines))
    return lines[:end]
