"""What every reader of inputs has to keep, bundled or of a package: a class whose tests a reader's own tests inherit.

from steadyrest.contract import ReaderContract

class TestPoints(ReaderContract):
    reader = POINTS
    samples = [Path("tests/wheel.points")]
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import ClassVar

from steadyrest.contract.facts import Broken
from steadyrest.errors import SteadyrestError
from steadyrest.inputs import Input, InputOptions, PartOptions, Piece, Reader, take, unfit
from steadyrest.toolpath import Toolpath

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
    """Tests of one reader. A class of a test file inherits them and says what is tested.

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
