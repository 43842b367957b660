"""A profile as it is, or as it was at a former revision of the git repository in which it lies: NAME@REVISION."""

from __future__ import annotations

import io
import os
import subprocess
import tarfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from steadyrest.errors import Place, ProfileError
from steadyrest.profile import ResolvedProfile, folder_of, resolve

NEVER, KEEP = "was never committed: all of it is new", "commit it with git, to see later what was changed"


@dataclass(frozen=True, slots=True)
class Side:
    """One of two profiles to be compared.

    label            what it was called by whoever asked
    tree, revision   of a former revision: the folder in which it lies, which is gone afterwards
    """

    label: str
    resolved: ResolvedProfile
    tree: str = ""
    revision: str = ""

    def place(self, path: str) -> str:
        """A path, a setting's origin for example, in words that still mean something afterwards."""
        return f"{self.revision}:{path.removeprefix(self.tree)}" if self.tree and path.startswith(self.tree) else path


def revision_in(said: str) -> tuple[str, str]:
    """NAME and REVISION of `NAME@REVISION`; the revision is empty where none is said, or where a folder has that very name."""
    name, at, revision = said.rpartition("@")
    if not at or not name or Path(said).exists():
        return said, ""
    return name, revision


@dataclass(frozen=True, slots=True)
class Commit:
    """The last commit that changed a profile's folder: its short name, its date (YYYY-MM-DD), and its first line."""

    name: str
    when: str
    subject: str


def last_commit(folder: Path) -> Commit:
    """The last commit that changed anything in a profile's folder. ProfileError where it is in no repository, or in no commit yet."""
    said = _git(folder, "log", "-1", "--format=%h%n%cs%n%s", "--", ".", place=str(folder)).decode(errors="replace").splitlines()
    if not said:
        raise ProfileError(NEVER, place=Place(file=str(folder)), cure=KEEP)
    return Commit(said[0], said[1], "".join(said[2:3]))


@contextmanager
def side(said: str, sets: Sequence[str] = (), unset: Sequence[str] = ()) -> Iterator[Side]:
    """The profile by a name, a path, or either with @REVISION; while the block runs, its files can be read.

    sets, unset   laid over it and left out, as of `resolve`; not where a revision is said
    Raises ProfileError: no such profile, no git repository, no such revision, or not in that revision.
    """
    name, revision = revision_in(said)
    if not revision:
        yield Side(said, resolve(said, sets, unset=unset))
        return
    folder = folder_of(name).resolve()
    top = Path(_git(folder, "rev-parse", "--show-toplevel", place=said).decode().strip()).resolve()
    inside = folder.relative_to(top)
    if revision.startswith("-"):
        raise ProfileError(f"{revision!r} is not a revision", place=Place(file=said), cure="for example NAME@HEAD, or NAME@ and a tag")
    wrong = f"git knows no revision {revision!r}"
    commit = _git(folder, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}", place=said, wrong=wrong).decode().strip()
    with TemporaryDirectory(prefix="steadyrest-") as scratch:
        tree = Path(scratch) / top.name
        yield Side(said, _former(top, commit, inside, tree, said), str(tree), revision)


def _former(top: Path, commit: str, inside: Path, tree: Path, said: str) -> ResolvedProfile:
    """The profile among its neighbours; where a parent of it lies further away, in the whole tree."""
    wrong = f"{inside.as_posix()} was not there then"
    for part in (inside.parent.as_posix(), "."):
        archive = _git(top, "archive", "--format=tar", commit, "--", part, place=said, wrong=wrong)
        with tarfile.open(fileobj=io.BytesIO(archive)) as packed:
            packed.extractall(tree, filter="data")
        if not (tree / inside).is_dir():
            raise ProfileError(wrong, place=Place(file=said), cure="choose a revision that has it; git log --follow shows them")
        with suppress(ProfileError):
            return resolve(tree / inside)
    return resolve(tree / inside)


def _git(folder: Path, *arguments: str, place: str, wrong: str = "") -> bytes:
    """What git answers. The variables that git sets for its hooks would lead it to another repository."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")} | {"LC_ALL": "C"}
    where = Place(file=place)
    try:
        done = subprocess.run(["git", "-C", str(folder), *arguments], capture_output=True, check=False, env=environment)
    except OSError:
        raise ProfileError("a revision needs git, and git cannot be run", place=where, cure="install git, or give a path") from None
    if done.returncode:
        told = done.stderr.decode(errors="replace").strip().splitlines()
        if any("not a git repository" in each for each in told):
            wrong = "is in no git repository, so nothing says what it was before"
            raise ProfileError(wrong, place=where, cure=f"begin one with `git init` in {folder.parent}, and commit what holds now")
        if any("not have any commits yet" in each for each in told):
            raise ProfileError(NEVER, place=where, cure=KEEP)
        raise ProfileError(
            wrong or f"git says: {told[-1] if told else 'nothing'}",
            place=where,
            cure=f"{folder} has to be in a git repository that has the revision; or give the path of the older version",
        )
    return done.stdout
