"""What every profile of a shop and every reader of inputs has to keep: facts that raise `Broken` where they do not hold.

The program of a toolpath as it was when somebody last read it, its golden file, is kept beside the profile and compared.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import ClassVar

from steadyrest.errors import PlanError, SteadyrestError
from steadyrest.inputs import Input, InputOptions, PartOptions, Piece, Reader, take, unfit
from steadyrest.profile import ResolvedProfile, resolve
from steadyrest.profile_tools import (
    ENDING,
    Result,
    Trial,
    check_sources,
    check_templates,
    events_reached,
    tour_folder,
    try_out,
    without_digest,
)
from steadyrest.toolpath import Toolpath, load_toolpath
from steadyrest.writing import put_in_place

OWN = "toolpaths"
"""The folder beside `controllers/` with the shop's own toolpaths, each of which is posted for every profile."""
FOLDER = "goldens"
GOLDEN = ".golden"
MOST_LINES = 40
"""So many lines of a difference are shown; more are read in the file itself."""


class Broken(Exception):
    """A fact that does not hold: what is wrong and the cure, for whoever keeps the profile."""


@dataclass(frozen=True, slots=True)
class Subject:
    """A toolpath that a profile is tried on: of the tour that comes with steadyrest ("tour"), or of the shop's own ("toolpaths")."""

    file: Path
    whose: str

    @property
    def name(self) -> str:
        """The file's name without its ending."""
        return self.file.name.removesuffix(ENDING)


@dataclass
class Shop:
    """A profile's folder in a shop's repository, and what came out of trying it: nothing is tried twice.

    folder    the profile's, in `controllers/`
    """

    folder: Path
    _trials: dict[Path, Trial] = field(default_factory=dict)

    @cached_property
    def subjects(self) -> tuple[Subject, ...]:
        """All toolpaths that the profile is tried on."""
        own = self.folder.parent.parent / OWN
        found = [Subject(file, "tour") for file in sorted(tour_folder().glob(f"*{ENDING}"))]
        return (*found, *(Subject(file, OWN) for file in sorted(own.glob(f"*{ENDING}"))))

    @cached_property
    def resolved(self) -> ResolvedProfile:
        """The profile with all that it inherits. Raises ProfileError."""
        return resolve(self.folder)

    def trial(self, subject: Subject) -> Trial:
        """A toolpath posted and proved, in memory. Raises ToolpathError for a toolpath that is wrong itself, ProfileError."""
        if subject.file not in self._trials:
            self._trials[subject.file] = try_out(load_toolpath(subject.file), self.resolved)
        return self._trials[subject.file]


def settings_fact(shop: Shop) -> None:
    """The profile loads with all that it inherits. Raises ProfileError, which names file and key."""
    assert shop.resolved.profile.name == shop.folder.name


def templates_fact(shop: Shop) -> None:
    """Every template can be used, and has an event or another template that uses it."""
    reached = events_reached((load_toolpath(subject.file) for subject in shop.subjects), shop.resolved)
    # An event that no toolpath here reaches is no mistake of the template.
    found = [one for one in check_templates(shop.resolved, reached) if "no program of the tour has this event" not in one.words]
    _all_good(found)


def sources_fact(shop: Shop) -> None:
    """Each setting that the profile states says in a comment where it comes from."""
    _all_good(check_sources(shop.folder))


def toolpath_fact(shop: Shop, subject: Subject) -> None:
    """The toolpath is posted and proved; or refused in words before anything is written, where the controller cannot do it."""
    trial = shop.trial(subject)
    if trial.outcome == "proved" or (trial.outcome == "refused" and isinstance(trial.error, PlanError)):
        return
    if trial.outcome == "not proved":
        words = f"the program is not proved\n{trial.verdict.text() if trial.verdict is not None else trial.words}"
    elif trial.outcome == "broken":
        words = f"{trial.words}; please report it with this profile"
    else:
        words = f"refused, and not because the controller cannot do it\n{trial.words}"
    raise Broken(f"{subject.name} on {shop.folder.name}: {words}")


def writing_fact(shop: Shop) -> None:
    """At least one toolpath of the tour can be written: else nothing is proved of the profile."""
    refused = []
    for subject in shop.subjects:
        if subject.whose == "tour":
            trial = shop.trial(subject)
            if trial.outcome != "refused":
                return
            refused.append(f"{subject.name}: {trial.words.splitlines()[0]}")
    raise Broken("\n  ".join(["not one toolpath of the tour can be written for this profile, so nothing is proved of it", *refused]))


FACTS = {"settings": settings_fact, "templates": templates_fact, "sources": sources_fact, "writes": writing_fact}
"""The facts of a whole profile, by the names of their tests."""


def _all_good(results: Iterable[Result]) -> None:
    bad = [f"{one.what}: {one.words}" for one in results if one.level != "good"]
    if bad:
        raise Broken("\n".join(bad))


def golden_file(shop: Shop, subject: Subject) -> Path:
    """Where the golden file of a toolpath is kept: `goldens/tour/` or `goldens/toolpaths/` in the profile's folder."""
    return shop.folder / FOLDER / subject.whose / f"{subject.name}{GOLDEN}"


def golden_text(shop: Shop, subject: Subject) -> bytes:
    """What the golden file should hold: the proved program, or the words of its refusal, the same on every machine.

    raises Broken for a program that is not proved: such a one is never kept
    """
    toolpath_fact(shop, subject)
    trial = shop.trial(subject)
    if trial.outcome == "proved":
        return without_digest(trial.text)
    words = f"refused: {type(trial.error).__name__}: {trial.words}\n"
    for path, name in ((subject.file, subject.file.name), (shop.folder, shop.folder.name), (shop.folder.parent.parent, ".")):
        words = words.replace(str(path), name)
    return words.encode("utf-8")


def golden_difference(shop: Shop, subject: Subject) -> str:
    """Why the golden file is not what is written now; empty where it is. Raises Broken as `golden_text` does."""
    now = golden_text(shop, subject)
    file = golden_file(shop, subject)
    short = "/".join(file.parts[-5:])
    try:
        kept = file.read_bytes()
    except OSError:
        return f"there is no golden file {short} yet: have it written, read it line by line as you would at the machine, and commit it"
    if kept == now:
        return ""
    before, after = (text.decode("utf-8", errors="replace").splitlines() for text in (kept, now))
    if before == after:
        return (
            f"{short} differs in its line endings only: is program.line_ending meant to change?\n"
            f"If not, something changed the file: a line '*{GOLDEN} -text' in .gitattributes keeps git from it."
        )
    lines = list(difflib.unified_diff(before, after, "as it was", "as written now", lineterm="", n=2))
    more = [f"... and {len(lines) - MOST_LINES} more lines"] if len(lines) > MOST_LINES else []
    return "\n".join([f"{short} is not what is written now:", *lines[:MOST_LINES], *more])


def put_golden(shop: Shop, subject: Subject) -> bool:
    """Write the golden file, proved first; whole or not at all. Returns whether it is another one now. Raises Broken, OutputError."""
    now = golden_text(shop, subject)
    file = golden_file(shop, subject)
    if file.is_file() and file.read_bytes() == now:
        return False
    file.parent.mkdir(parents=True, exist_ok=True)
    put_in_place([now], file).commit()
    return True


def left_over(shop: Shop) -> list[Path]:
    """Golden files of toolpaths that are gone."""
    wanted = {golden_file(shop, subject) for subject in shop.subjects}
    return sorted(file for file in (shop.folder / FOLDER).glob(f"*/*{GOLDEN}") if file not in wanted)


NOT_OF_ANY_KIND = {
    "empty": b"",
    "blank": b" \n\n",
    "binary": bytes(range(256)) * 8,
    "UTF-16": "GOTO/1,2,3\nFINI\n".encode("utf-16"),
    "half a word": b"GOT",
    "half an object": b'{"steadyrest_toolpath": 1, "units": "mm", "operations": [',
    "half a program": b"%\nG21 G90\nG0 X1",
    "prose": b"This is a letter, and no toolpath.\n",
}
"""Files that no reader may take."""


class ReaderContract:
    """Tests of one reader, bundled or of a package. A class of a test file inherits them and says what is tested:

        class TestPoints(ReaderContract):
            reader = POINTS
            samples = [Path("tests/wheel.points")]

    reader          the reader
    samples         files that it reads, each a whole part or a piece of one
    part            what is said about the part where the samples leave it open: stock or clearance, tools
    tells_its_end   a sample that is cut off can be told from a whole one; False for a form in which every beginning of a file is whole
    """

    reader: ClassVar[Reader]
    samples: ClassVar[Sequence[Path]] = ()
    part: ClassVar[PartOptions] = PartOptions(clearance=1000.0)
    tells_its_end: ClassVar[bool] = True

    def test_it_can_be_used(self) -> None:
        """Its kind, its endings, and a sentence that says what it reads, with the source of its rules."""
        if wrong := unfit(self.reader):
            raise Broken(wrong)
        if not self.reader.speaks.strip():
            raise Broken(f"give the reader {self.reader.kind} a sentence that says what it reads, with the source of its rules")

    def test_files_of_no_kind_are_refused_in_the_users_words(self) -> None:
        """Each of NOT_OF_ANY_KIND: an error of steadyrest with a cure, at the file or nowhere."""
        for what, data in NOT_OF_ANY_KIND.items():
            if self.reader.recognises(data) not in (True, False):
                raise Broken(f"recognises() gives neither True nor False for a file that is {what}")
            self._refused(data, f"a file that is {what}")

    def test_a_missing_file_is_an_error_in_the_users_words(self) -> None:
        """As any other file that cannot be read."""
        self._refused(None, "a file that is not there")

    def test_a_file_that_is_cut_off_is_refused(self) -> None:
        """A shortened part would look whole."""
        for sample in self.samples if self.tells_its_end else ():
            data = sample.read_bytes().rstrip()
            self._refused(data[: len(data) // 2], f"the first half of {sample}")

    def test_samples_are_recognised_or_told_by_their_ending(self) -> None:
        """Else nobody could read them without --kind."""
        for sample in self.samples:
            if not self.reader.recognises(sample.read_bytes()[: 1 << 16]) and not sample.name.lower().endswith(self.reader.endings):
                raise Broken(f"{sample} is not recognised, and has none of the endings {', '.join(self.reader.endings)}")

    def test_samples_become_toolpaths_and_the_same_ones_each_time(self) -> None:
        """Read as pieces, joined with what is said about the part, and each operation gone through to its end."""
        for sample in self.samples:
            piece = self.reader.read(sample, InputOptions(), self.part)
            if not isinstance(piece, Piece):
                raise Broken(f"{sample} becomes {type(piece).__name__}, and not a steadyrest.inputs.Piece")
            first, second = (self._toolpath(sample) for _ in "12")
            if first.digest != second.digest:
                raise Broken(f"{sample} becomes another toolpath when it is read again")

    def _toolpath(self, sample: Path) -> Toolpath:
        toolpath = take([Input(file=sample, kind=self.reader.kind)], self.part)
        for operation in toolpath.operations:
            for _ in operation.stream():
                pass
        return toolpath

    def _refused(self, data: bytes | None, what: str) -> None:
        """Broken unless reading a file with these bytes, None: without a file, is an error of steadyrest that says where and what to do."""
        with TemporaryDirectory() as folder:
            file = Path(folder) / "file"
            if data is not None:
                file.write_bytes(data)
            try:
                self.reader.read(file, InputOptions(), self.part)
            except SteadyrestError as error:
                if error.place.file not in (str(file), None):
                    raise Broken(f"the error for {what} names another file: {error}") from error
                if not error.cure:
                    raise Broken(f"the error for {what} does not say what can be done about it: {error}") from error
            else:
                raise Broken(f"the reader {self.reader.kind} takes {what}")
