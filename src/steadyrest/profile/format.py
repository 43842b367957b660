"""What a program looks like as text: marks, numbers, names, comments, and how a number is spelled."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from steadyrest.profile.base import Finite, Letter, Settings, check_characters, impossible

SafeStart = Annotated[str, StringConstraints(pattern=r"^[GM]\d{1,4}(\.\d)?( [GM]\d{1,4}(\.\d)?)*$")]


class BlockNumbers(Settings):
    """The N words at the start of blocks."""

    use: Literal["none", "every_block", "operations"] = Field(
        "none", description="Which blocks are numbered: none, every one, or only the first block of each operation."
    )
    letter: Letter = Field("N", description="The letter of a block number.")
    first: int = Field(10, ge=0, description="The first number.")
    step: int = Field(10, ge=1, description="From one number to the next.")
    digits: int = Field(1, ge=1, le=8, description="Least number of digits; shorter numbers get leading zeros.")
    largest: int = Field(99999, ge=1, description="The largest number; counting starts again at `first` after it.")

    def _check(self) -> None:
        if self.first + self.step > self.largest:
            raise impossible(
                f"block numbers from {self.first} in steps of {self.step} are past the largest, {self.largest}, at once", key="largest"
            )


class ProgramNumber(Settings):
    """The number under which the controller keeps the program, such as O0042."""

    letter: str = Field("", pattern=r"^[A-Z:]?$", description="What stands before the program number; empty: no program number.")
    digits: int = Field(4, ge=1, le=8, description="Number of digits, filled with leading zeros.")
    default: int = Field(1, ge=0, description="The number when none is asked for.")

    def _check(self) -> None:
        if self.letter and len(str(self.default)) > self.digits:
            raise impossible(f"the program number {self.default} has more than {self.digits} digits", key="default")


class Comments(Settings):
    """How text for the operator is told from words."""

    style: Literal["parentheses", "semicolon", "none"] = Field(
        "parentheses",
        description="`(text)`, `;text` to the end of the line, or no comments at all (they are left out).",
    )
    characters: str = Field(
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 .,:+-*/=<>_'!?#&@",
        description="The characters that the controller takes in a comment; others are replaced by a space.",
    )
    upper_case: bool = Field(False, description="Write comments in capitals.")
    longest: int = Field(100, ge=8, description="The longest comment; longer text is cut off.")

    def _check(self) -> None:
        if self.style == "none":
            return
        cure = "use letters without accents, digits, and the signs of a plain keyboard"
        wrong = "a program, which is plain ASCII text"
        check_characters(self.characters, lambda each: " " <= each <= "~", wrong, cure, upper_case=self.upper_case)
        if self.style == "parentheses" and ("(" in self.characters or ")" in self.characters):
            raise impossible("a parenthesis inside a comment would end it", key="characters", cure="take ( and ) out")
        if " " not in self.characters:
            raise impossible(
                "the space is missing, but characters that are not allowed are replaced by a space", key="characters", cure="add a space"
            )


class Program(Settings):
    """The file as a whole."""

    extension: str = Field(".nc", pattern=r"^\.[A-Za-z0-9]{1,8}$", description="The ending of the file's name.")
    line_ending: Literal["lf", "crlf"] = Field("lf", description="What ends a line: LF or CR LF.")
    start_mark: str = Field("%", pattern=r"^[!-~]*$", description="A line of its own before everything, often `%`; empty: none.")
    name_letters: Annotated[int, Field(ge=0, le=64)] = Field(
        0,
        description=(
            "How many characters of the toolpath's name stand directly after the start mark, as the program's identification: "
            "capitals, digits and hyphens; 0: none."
        ),
    )
    end_mark: str = Field("%", pattern=r"^[!-~]*$", description="A line of its own after everything, often `%`; empty: none.")
    number: ProgramNumber = ProgramNumber.model_construct()
    block_numbers: BlockNumbers = BlockNumbers.model_construct()
    comments: Comments = Comments.model_construct()
    longest_line: int = Field(250, ge=20, description="The most characters in a line, without its ending.")
    safe_start: tuple[SafeStart, ...] = Field(
        ("G17 G40 G49 G80",),
        description=(
            "Blocks that put the controller into a known state, before units, distance, feed mode and work offset, "
            "which are written by themselves."
        ),
    )
    start_position: tuple[Finite, ...] | None = Field(
        None,
        min_length=4,
        max_length=5,
        description=(
            "Where X, Y, Z (mm, work coordinates) and the rotary (degrees; two in the order of the chain) stand when the program starts "
            "and where it brings them back at its end. Needed by a controller that takes incremental words only; unset otherwise."
        ),
    )

    def _check(self) -> None:
        comments = self.comments
        numbers = self.block_numbers
        if comments.style != "none":
            if "%" in comments.characters and "%" in self.start_mark + self.end_mark:
                raise impossible("% begins and ends the program, so it is not allowed in a comment", key="comments.characters")
            brackets = 2 if comments.style == "parentheses" else 1
            number = 0 if numbers.use == "none" else 2 + max(numbers.digits, len(str(numbers.largest)))
            if comments.longest + brackets + number > self.longest_line:
                raise impossible(
                    f"a comment of {comments.longest} characters does not fit into a line of {self.longest_line}",
                    key="comments.longest",
                    cure=f"at most {self.longest_line - brackets - number}",
                )
        if self.name_letters and not self.start_mark:
            raise impossible(
                "the name comes after the start mark, but there is no start mark",
                key="name_letters",
                cure="set start_mark, or set this to 0",
            )
        for block in self.safe_start:
            if len(block) > self.longest_line:
                raise impossible(f'"{block}" is longer than a line may be', key="safe_start", cure="split it into two blocks")


class NumberFormat(Settings):
    """How a number of one kind is spelled. It is always rounded to whole counts of its least increment first."""

    decimals: Annotated[int, Field(ge=0, le=6)] = Field(3, description="Decimals; the least increment is 10 to the power of minus this.")
    inch_decimals: Annotated[int, Field(ge=0, le=6)] | None = Field(
        None, description="Decimals in an inch program; unset: the same as `decimals`."
    )
    point: Literal["always", "when_needed", "counts"] = Field(
        "when_needed",
        description="`always`: 12. and 12.5; `when_needed`: 12 and 12.5; `counts`: whole counts of the least increment, 12500.",
    )
    trailing_zeros: bool = Field(False, description="Write all decimals: 12.500. Not with `counts`.")
    leading_zero: bool = Field(True, description="0.5 when true, .5 when false.")
    plus: bool = Field(False, description="Write + before positive numbers.")

    def _check(self) -> None:
        if self.point == "counts" and self.trailing_zeros:
            raise impossible(
                "whole counts have no decimals, so there are no trailing zeros to write",
                key="trailing_zeros",
                cure="trailing_zeros = false",
            )


class Numbers(Settings):
    """The spelling of numbers, by what they measure; `by_letter` overrides it for single letters."""

    length: NumberFormat = NumberFormat(decimals=3, inch_decimals=4)
    angle: NumberFormat = NumberFormat(decimals=3)
    feed: NumberFormat = NumberFormat(decimals=1, inch_decimals=2)
    inverse_feed: NumberFormat = NumberFormat(decimals=3)
    dwell: NumberFormat = NumberFormat(decimals=3)
    spindle: NumberFormat = NumberFormat(decimals=0)
    by_letter: dict[Letter, NumberFormat] = Field(
        {}, description="Formats for single letters (a length or angle letter, such as K), instead of the one by kind."
    )

    def _check(self) -> None:
        for letter in sorted(set(self.by_letter) & set("GMN")):
            raise impossible(f"{letter} words are codes or block numbers, which have no number format", key=f"by_letter.{letter}")


class Words(Settings):
    """How words stand in a block, and which of them hold until changed."""

    order: str = Field("NGXYZABCIJKRPQLFSTHDM", pattern=r"^[A-Z]+$", description="The order of words in a block, by their letters.")
    spaces: bool = Field(True, description="A space between words.")
    distance: Literal["absolute", "incremental"] = Field(
        "absolute", description="What the axis words of a block mean: positions, or steps from the last position."
    )
    repeat_motion: bool = Field(False, description="The motion code (G1) in every motion block, not only where it changes.")
    repeat_axes: str = Field(
        "",
        pattern=r"^[A-Z]*$",
        description="Letters of axes written in every motion block, even when they do not change.",
    )
    repeat_feed: bool = Field(False, description="F in every feed block. In inverse time it is always written.")

    def _check(self) -> None:
        for key in ("order", "repeat_axes"):
            letters = getattr(self, key)
            double = sorted({each for each in letters if letters.count(each) > 1})
            if double:
                raise impossible(f"{double[0]} is named twice", key=key, cure="name each letter once")
