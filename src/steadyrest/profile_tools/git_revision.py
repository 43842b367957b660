"""What did a profile say at a former revision? NAME@REVISION is taken out of the git repository in which the profile lies."""

from __future__ import annotations

import io
import os
import subprocess
import tarfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from steadyrest.errors import Place, ProfileError
from steadyrest.profile import ResolvedProfile, folder_of, resolve


@dataclass(frozen=True, slots=True)
class Side:
    """One of two profiles to be compared.

    label      what it was called by whoever asked
    resolved   the profile
    renamed    beginnings of paths, and what is said in their place: a former revision lies in a folder that is gone afterwards
    """

    label: str
    resolved: ResolvedProfile
    renamed: Mapping[str, str]

    def place(self, path: str) -> str:
        """A path, a setting's origin for example, in words that still mean something afterwards."""
        for beginning, instead in self.renamed.items():
            if path.startswith(beginning):
                return instead + path[len(beginning) :]
        return path


def revision_in(said: str) -> tuple[str, str]:
    """NAME and REVISION of `NAME@REVISION`; the revision is empty where none is said, or where a folder has that very name."""
    name, at, revision = said.rpartition("@")
    if not at or not name or Path(said).exists():
        return said, ""
    return name, revision


@contextmanager
def side(said: str) -> Iterator[Side]:
    """The profile by a name, a path, or either with @REVISION; while the block runs, its files can be read.

    Raises ProfileError: no such profile, no git repository, no such revision, or not in that revision.
    """
    name, revision = revision_in(said)
    if not revision:
        yield Side(said, resolve(said), {})
        return
    folder = folder_of(name).resolve()
    top = Path(_git(folder, "rev-parse", "--show-toplevel", place=said).decode().strip()).resolve()
    inside = folder.relative_to(top)
    if revision.startswith("-"):
        raise ProfileError(f"{revision!r} is not a revision", place=Place(file=said), cure="for example NAME@HEAD, or NAME@ and a tag")
    commit = _git(
        folder, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}", place=said, wrong=f"git knows no revision {revision!r}"
    )
    with TemporaryDirectory(prefix="steadyrest-") as scratch:
        tree = Path(scratch) / top.name
        renamed = {str(tree): f"{revision}:", scratch: f"{revision}:"}
        found = _found(top, commit.decode().strip(), inside, tree, said)
        yield Side(said, found, renamed)


def _found(top: Path, commit: str, inside: Path, tree: Path, said: str) -> ResolvedProfile:
    """The profile among its neighbours; where a parent of it lies further away, in the whole tree."""
    for part in ("." if inside.parent == Path() else inside.parent.as_posix(), "."):
        wrong = f"{inside.as_posix()} was not there then"
        archive = _git(top, "archive", "--format=tar", commit, "--", part, place=said, wrong=wrong)
        tree.mkdir(exist_ok=True)
        with tarfile.open(fileobj=io.BytesIO(archive)) as packed:
            packed.extractall(tree, filter="data")
        folder = tree / inside
        if not folder.is_dir():
            raise ProfileError(wrong, place=Place(file=said), cure="choose a revision that has it; git log --follow shows them")
        try:
            return resolve(folder)
        except ProfileError:
            if part == ".":
                raise
    raise AssertionError("the loop ends with a profile or an error")


def _git(folder: Path, *arguments: str, place: str, wrong: str = "") -> bytes:
    """What git answers. The variables that git sets for its hooks would lead it to another repository."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")}
    where = Place(file=place)
    try:
        done = subprocess.run(["git", "-C", str(folder), *arguments], capture_output=True, check=False, env=environment)
    except OSError:
        raise ProfileError("a revision needs git, and git cannot be run", place=where, cure="install git, or give a path") from None
    if done.returncode:
        told = done.stderr.decode(errors="replace").strip().splitlines()
        raise ProfileError(
            wrong or f"git says: {told[-1] if told else 'nothing'}",
            place=where,
            cure=f"{folder} has to be in a git repository that has the revision; or give the path of the older version",
        )
    return done.stdout
