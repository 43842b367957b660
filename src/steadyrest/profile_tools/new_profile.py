"""A new profile's folder, which works at once: controller.toml, README with the questionnaire, a first part, and a test."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steadyrest.errors import OutputError, Place, ProfileError
from steadyrest.posting import posted_text
from steadyrest.profile import FILE_NAME, Profile, bundled_folder, folder_of, folder_of_parent, resolve
from steadyrest.profile_tools.example import Claim
from steadyrest.profile_tools.proposal import Proposal, Sorted, propose, sorted_claims
from steadyrest.profile_tools.settings import said, value_of, with_values
from steadyrest.profile_tools.starter_files import PART, controller_text, first_part, readme_text, test_text
from steadyrest.profile_tools.trial import try_out
from steadyrest.toolpath import parse_toolpath

NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@dataclass(frozen=True, slots=True)
class Created:
    """A new profile.

    folder     where it lies
    parent     the name of the profile that it extends
    proposal   what the example showed; None without one
    claims     what was done with that
    """

    folder: Path
    parent: str
    proposal: Proposal | None
    claims: Sorted


def create(name: str, parent: str, inside: Path, *, sets: Sequence[str] = (), example: Path | None = None) -> Created:
    """Make the folder NAME inside another one.

    parent    name or path of the profile to extend
    sets      KEY=VALUE: differences that are known already
    example   a trusted program; what it shows is stated, with the line that shows it
    raises    ProfileError for names, parents and settings that are wrong, ProgramError for an example that is no program, OutputError
              where the folder exists or cannot be made, Refused where the first part is not proved. Nothing is left behind then.
    """
    folder = inside / name
    _check_name(name, folder)
    parent_folder = _parent_folder(parent, folder)
    resolved = resolve(parent_folder)
    given = _given(parent_folder, sets)
    found = None if example is None else propose(example, resolved.profile)

    def fails(profile: Profile) -> str:
        return try_out(parse_toolpath(first_part(profile)), profile, resolved.template_folders).words

    claims = sorted_claims(found.claims if found is not None else (), resolved.profile, given, fails)
    profile = with_values(resolved.profile, {**{claim.key: claim.value for claim in claims.stated}, **given})
    _make(folder)
    try:
        extends = _extends(parent, parent_folder, folder)
        _write(folder / FILE_NAME, controller_text(name, extends, resolved.profile, given, claims))
        _write(folder / "README.md", readme_text(name, shlex.quote(folder.as_posix()), profile, resolved.profile.name, found, claims))
        _write(folder / PART, json.dumps(first_part(profile), indent=1) + "\n")
        program = posted_text(folder / PART, folder).splitlines()
        _write(folder / f"test_{name.replace('-', '_')}.py", test_text(name, profile, program))
    except BaseException:
        shutil.rmtree(folder)
        raise
    return Created(folder, resolved.profile.name, found, claims)


def _check_name(name: str, folder: Path) -> None:
    if not NAME.fullmatch(name):
        cure = "use small letters, digits and hyphens, such as corner-mill"
        raise ProfileError(f"{name!r} cannot be the name of a profile", cure=cure)
    if (bundled_folder() / name).is_dir():
        raise ProfileError(f"there is a bundled profile called {name}", cure="choose a name that only your shop has")
    if os.path.lexists(folder):
        raise OutputError("exists already, and is never overwritten", place=Place(file=str(folder)), cure="choose another name")


def _parent_folder(parent: str, folder: Path) -> Path:
    """The parent as the new folder will find it: a folder beside it comes before all others."""
    if (folder.parent / parent / FILE_NAME).is_file():
        return folder_of_parent(parent, folder)
    return Path(os.path.abspath(folder_of(parent)))


def _extends(parent: str, parent_folder: Path, folder: Path) -> str:
    """The parent's name where the new folder finds it by that, else the way there."""
    try:
        if folder_of_parent(parent, folder).resolve() == parent_folder.resolve() and parent_folder.name == parent:
            return parent
    except ProfileError:
        pass  # a path from where the command is run
    return Path(os.path.relpath(parent_folder, folder)).as_posix()


def _given(parent: Path, sets: Sequence[str]) -> Mapping[str, Any]:
    """The settings that KEY=VALUE texts state, by their keys; checked as they are for a run."""
    profile = resolve(parent, sets).profile
    keys = [".".join(part.strip() for part in said.partition("=")[0].split(".")) for said in sets]
    return {key: value_of(profile, key) for key in keys}


def _make(folder: Path) -> None:
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir()
    except FileExistsError:
        raise OutputError("exists already, and is never overwritten", place=Place(file=str(folder)), cure="choose another name") from None
    except OSError as error:
        raise OutputError(f"cannot be made: {error.strerror}", place=Place(file=str(folder)), cure="name another folder") from None


def _write(file: Path, text: str) -> None:
    try:
        file.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise OutputError(f"cannot be written: {error.strerror}", place=Place(file=str(file)), cure="name another folder") from None


def created_text(created: Created) -> str:
    """One screen, or as long as the example has things to show."""
    lines = [f"{created.folder}: created, extends {created.parent}; its first part was posted and proved"]
    if created.proposal is not None:
        lines += ["", f"{created.proposal.example} shows these settings that differ from {created.parent}; they are set now:"]
        lines += _claims([(claim, "") for claim in created.claims.stated])
        if created.claims.asked:
            lines += ["", "check these first; they are comments in controller.toml:"]
            lines += _claims(created.claims.asked)
        lines += ["", f"{len(created.claims.same)} more settings that it shows are the same as in {created.parent}; README.md lists them"]
        lines += ["", "it does not show:", *(f"  - {sentence}" for sentence in created.proposal.unknown)]
    lines += [
        "",
        f"next: go through {created.folder / 'README.md'} at the machine, then",
        f"      steadyrest controller check {created.folder}",
    ]
    return "\n".join(lines)


def _claims(claims: Sequence[tuple[Claim, str]]) -> list[str]:
    lines: list[str] = []
    for claim, reason in claims:
        lines.append(f"  {claim.key} = {said(claim.value)}")
        where = f"line {claim.line}: {claim.text}" if claim.line else "the whole file"
        lines.append(f"      {where}  ({claim.why})")
        if reason:
            lines.append(f"      {reason}")
    return lines or ["  nothing"]
