"""The words of the block that is being carried out: which codes, which values, and which of them were used."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NoReturn, TypeVar

from steadyrest.conventions import AXES
from steadyrest.errors import Place, ProgramError
from steadyrest.profile import says_what_is_cut
from steadyrest.reading.collector import Collector
from steadyrest.reading.dialect import BEYOND, CENTRES, CYCLE_END, ENDS, WITHOUT_IT, Dialect, Meaning, code_key, code_name
from steadyrest.reading.state import NEAR_INTEGER, State

T = TypeVar("T")

_WORD = r"[ \t]*+([A-Za-z:])[ \t]*+([+-]?(?:[0-9]++\.?[0-9]*+|\.[0-9]++))"
_COMMENT = {
    "parentheses": r"(?:\(([\t -'*-~]*)\))?[ \t]*+",
    "semicolon": r"(?:;([\t -~]*))?",
    "none": "((?!))?",
    "any": r"(?:[(;]((?<=;).*|(?<=\()[^()]*(?=\)[ \t]*$))\)?[ \t]*+)?",
}
_PLAIN = {style: re.compile(rf"((?:{_WORD})*+)[ \t]*+{comment}") for style, comment in _COMMENT.items()}
_ONE_WORD = re.compile(_WORD)
ANY_COMMENT = re.compile(r"\([^)]*\)|;.*")
MOST_M_CODES = 4  # NISTIR 6556, 3.3.5
MOST_DIGITS = 17  # NISTIR 6556, 3.3.2.1: about so many are kept
LONGEST_PAUSE_S = 100.0  # in a program from elsewhere: no chip takes so long, and milliseconds may be meant (common practice)
MAY_MOVE = "ABCUVW"  # axes at some controller (ISO 6983-1, table of addresses, from memory): they never go with a code that is left out
ENDS_BY_AXIS = ("G50", "G50.1")  # end a mode for the axes whose words stand beside them, at some controllers (common practice)


@dataclass(frozen=True, slots=True)
class Word:
    """A letter and a number.

    point    the number has a decimal point or is an expression: it is in units even where others are whole counts
    text     as spelled, for messages
    column   from 1, in the line as it stands in the file
    """

    letter: str
    value: float
    point: bool
    text: str
    column: int

    @property
    def spelled(self) -> str:
        """The number as it stands there."""
        return self.text[1:]

    @property
    def code(self) -> str:
        """The word in the spelling in which codes are compared: G01 and G1 are both G1."""
        return f"{self.letter}{self.value:g}"

    @property
    def decimals(self) -> int:
        """Digits behind the point."""
        return len(self.text.partition(".")[2])


@dataclass(frozen=True, slots=True)
class Block:
    """One line of a program, its parameter settings already carried out."""

    line: int
    words: tuple[Word, ...] = ()
    comments: tuple[str, ...] = ()
    skip: bool = False
    settings: bool = False


def lex_line(text: str) -> tuple[tuple[Word, ...], tuple[str, ...], str]:
    """The words of a line in a dialect that nobody has described, its comments with what begins and ends them, and all that is neither.

    Nothing is taken for wrong, and no parameter or expression evaluated: where one stands, part of it is among what is neither.
    """
    bare = ANY_COMMENT.sub(lambda comment: " " * len(comment[0]), text)
    return _words(bare, len(bare)), tuple(ANY_COMMENT.findall(text)), _ONE_WORD.sub("", bare).strip()


def _words(text: str, end: int) -> tuple[Word, ...]:
    return tuple(
        Word(letter := match[1].upper(), float(match[2]), "." in match[2], letter + match[2], match.start(1) + 1)
        for match in _ONE_WORD.finditer(text, 0, end)
    )


def plain_block(text: str, line: int, comment_style: str) -> Block | None:
    """The block of a line that is nothing but words, then perhaps a comment, as most are; None: it is for the grammar to say."""
    plain = _PLAIN[comment_style].fullmatch(text)
    words = _words(text, plain.end(1)) if plain is not None else ()
    if plain is None or any(len(word.text) > MOST_DIGITS for word in words):
        return None
    comment = plain[plain.re.groups]
    return Block(line, words, () if comment is None else (comment,))


class BlockWords:
    """One block with the state it meets.

    codes    by modal group
    words    by letter, codes and the block number left out
    pause    the time of a pause, kept apart: its letter may be that of an axis or of F
    lenient  it is of a program from elsewhere
    """

    def __init__(self, block: Block, state: State, dialect: Dialect, out: Collector, file: str | None) -> None:
        self.block = block
        self.line = block.line
        self.state = state
        self.dialect = dialect
        self.lenient = dialect.lenient is not None
        self.out = out
        self.file = file
        self.codes: dict[str, tuple[Meaning, Word]] = {}
        self.words: dict[str, Word] = {}
        self._used: set[str] = set()
        self.left_out: tuple[str, ...] = ()
        if self.lenient:
            codes = (dialect.codes.get((word.letter, round(word.value * 10))) for word in block.words if word.letter in "GM")
            self.left_out = tuple(code.code for code in codes if code is not None and code.does == "left_out")
        self._sort()
        pauses = "one block" in self.codes and self.codes["one block"][0].does == "dwell"
        self.pause = self.words.pop(dialect.profile.codes.dwell_letter, None) if pauses else None

    def fail(self, wrong: str, cure: str, at: Word | str | None = None) -> NoReturn:
        """Refuse the block, at a word of it, at the code of a modal group if there is one, or as a whole."""
        word = at if isinstance(at, Word) else self.codes[at][1] if at in self.codes else None
        column = word.column if word is not None else self.block.words[0].column if self.block.words else None
        raise ProgramError(wrong, place=Place(file=self.file, line=self.line, column=column), cure=cure)

    def code(self, group: str) -> Meaning | None:
        """The code of a modal group, if the block has one."""
        return self.codes[group][0] if group in self.codes else None

    def take(self, letter: str) -> Word | None:
        """The word of a letter, if the block has it, and note that it has been used."""
        word = self.words.get(letter)
        if word is not None:
            self._used.add(letter)
        return word

    def has_axis_words(self) -> bool:
        """Whether a word of an axis is there that nothing has used yet."""
        return any(letter in self.words and letter not in self._used for letter in (*AXES, *self.dialect.rotaries))

    def value(self, word: Word, kind: str) -> float:
        """The number of a word in units of the program: what the profile's number format of this letter says."""
        scale = self.dialect.increment(word.letter, kind, self.state.inch)
        if scale != 1.0 and word.text.endswith("]"):
            wrong = f"the calculation {word.text} on a controller that counts least increments: its unit is unclear"
            self.fail(wrong, "write the number itself", word)
        number = word.value if word.point else word.value / scale
        if not abs(number) < BEYOND:
            self.fail(f"{word.text} is a number of {BEYOND:g} or more, and no axis goes that far", "correct it", word)
        return number

    def length_mm(self, word: Word) -> float:
        """The length of a word, in mm."""
        return self.value(word, "length") * self.mm_per_unit()

    def seconds(self, word: Word) -> float:
        """The time of a pause; refused where it is negative, or in a program from elsewhere so long that its unit is in doubt."""
        unit = self.dialect.profile.codes.dwell_unit
        seconds = self.value(word, "dwell") / (1000.0 if unit == "milliseconds" else 1.0)
        if seconds < 0:
            self.fail(f"{word.text}: a pause cannot be negative", "correct it", word)
        if self.lenient and seconds > LONGEST_PAUSE_S:
            wrong = f"{word.text} is a pause of {seconds:g} seconds in the language in which the program is read"
            self.fail(wrong, 'if milliseconds are meant, say the language of a profile with codes.dwell_unit = "milliseconds"', word)
        return seconds

    def mm_per_unit(self) -> float:
        """The units in force; refused as long as the program has not stated them."""
        lenient, units, state = self.dialect.lenient, self.dialect.profile.units, self.state
        given = lenient.mm_per_unit if lenient is not None else None
        told = f"lengths in {'mm' if given == 1.0 else 'inches'} as given (no unit in the program)"
        state.mm_per_unit = self.stated(state.mm_per_unit, "the units", [units.mm, units.inch], "the first length", given, told)
        return state.mm_per_unit

    def whole(self, word: Word) -> int:
        """The number of a word that has to be whole (NISTIR 6556, 3.3.2.1)."""
        number = round(word.value)
        if abs(word.value - number) > NEAR_INTEGER:
            self.fail(f"{word.text} has to be a whole number", "correct the number", word)
        return number

    def stated(self, held: T | None, what: str, codes: list[str], before: str, default: T | None = None, told: str = "") -> T:
        """A mode in force; where nobody has set it, refused (NISTIR 6556, table 4, gives no defaults) or taken for granted."""
        if held is not None:
            return held
        if default is not None and self.granted(told):
            return default
        names = " or ".join(code for code in codes if code)
        wrong = f"{names} must be stated before {before}: {what} at this place depend on what ran before"
        self.fail(wrong, f"put {names} into an earlier block")

    def granted(self, sentence: str) -> bool:
        """Whether something that the program has not stated may be taken for granted, as in one from elsewhere: then it is told."""
        if not self.lenient:
            return False
        self.out.event(self.line, "assumed", text=sentence)
        return True

    def may_be_whole_circle(self) -> bool:
        """Whether an arc of this block may leave out its end, as in a program from elsewhere where its centre is given."""
        return self.lenient and any(letter in self.words for letter in CENTRES)

    def check_modes_ended(self, motion: str | None) -> None:
        """In a program from elsewhere, refuse an axis word beside a code that ends a mode: it may belong to that code.

        A code of motion in the block takes it, but for codes that some controllers give axes. Beside the end of a cycle the motion from
        before holds, or a rapid: only where both are the same is it known.
        """
        if not self.lenient:
            return
        for group, (code, word) in self.codes.items():
            ends = group == ENDS + code.code
            alone = "motion" not in self.codes and (ends or (group == CYCLE_END and motion != "rapid"))
            if alone or (ends and code.code in ENDS_BY_AXIS):
                beside = next(self.words[letter] for letter in (*AXES, *self.dialect.rotaries, *CENTRES) if letter in self.words)
                wrong = f"{beside.text} in a block with {word.text}, which ends a mode: whether the tool goes there is not known"
                self.fail(wrong, "put the position into a block of its own, with its code of motion, or take it out", beside)

    def check_all_used(self) -> None:
        """Refuse words that no code of the block takes (NISTIR 6556, 3.3.5 and the error list of its source)."""
        if not self.left_out:
            for letter, word in self.words.items():
                if letter not in self._used:
                    wrong = f"{word.text}: no code of this block, nor one that holds from before, uses {letter}"
                    self.fail(wrong, f"take {letter} out, or add the code it belongs to", word)
            return
        # Codes that mean nothing for what is cut go with the words that nothing else in their block takes, unless these are places.
        chosen = [code for code in self.left_out if "left out " + code in self.codes]
        for letter in (*AXES, *self.dialect.rotaries):
            if letter in self.words and chosen and "motion" not in self.codes:
                word = self.words[letter]
                wrong = f"{word.text} in a block with {chosen[0]}, which is left out: whether the tool goes there is not known"
                self.fail(wrong, "put the position into a block of its own, or take it out", word)
        for code in self.left_out:
            self.out.event(self.line, "left_out", text=code)

    def _sort(self) -> None:
        """Tell codes from other words; one code of a group, one word of a letter, at most four M (NISTIR 6556, 3.3.5, 3.4)."""
        number_letter = self.dialect.profile.program.block_numbers.letter
        m_codes = 0
        for place, word in enumerate(self.block.words):
            letter = word.letter
            if letter == number_letter:  # it stands first and is a plain whole number (3.3.1)
                most = self.dialect.block_number_digits
                if place > 0:
                    self.fail(f"the block number {word.text} is not at the start", "put it at the start of the block, once", word)
                if not word.spelled.isdigit() or len(word.spelled) > most:
                    wrong = f"{word.text} is not a block number: those have 1 to {most} digits, no sign, no point"
                    self.fail(wrong, "correct it", word)
            elif letter in self.dialect.code_letters or letter in "GM":
                self._sort_code(word)
                m_codes += letter == "M"
                if m_codes > MOST_M_CODES:
                    self.fail(f"more than {MOST_M_CODES} M codes in one block", "split them over several blocks", word)
            elif letter not in self.dialect.letters:
                if not self.left_out or letter in MAY_MOVE:
                    self._unknown_letter(word)
            elif letter in self.words:
                self.fail(f"two words {letter} in one block, {self.words[letter].text} and {word.text}", "keep one of them", word)
            else:
                self.words[letter] = word

    def _sort_code(self, word: Word) -> None:
        tenths = word.value * 10
        if abs(tenths - round(tenths)) > NEAR_INTEGER or tenths < 0:
            self.fail(f"{word.text} is no code", "correct the number", word)
        meaning = self.dialect.codes.get((word.letter, round(tenths)))
        if meaning is None and self.lenient:
            code = code_name((word.letter, round(tenths)))
            what = says_what_is_cut(code)
            if what:
                self.fail(f"{word.text} is not understood here, and it says what is cut ({what})", WITHOUT_IT, word)
            wrong = f"{word.text} has no meaning in the language in which the program is read, {self.dialect.profile.name}"
            cure = f"if it does not affect the cut, leave it out with --leave-out {code}; else name another language, or correct the code"
            self.fail(wrong, cure, word)
        if meaning is None:
            known = sorted({m.code for m in self.dialect.codes.values() if m.code[0] == word.letter and m.does != "refused"}, key=code_key)
            wrong = f"{word.text} is not a code of this controller, it has {' '.join(known) or 'no ' + word.letter + ' codes'}"
            self.fail(wrong, "correct the code, or add it to the profile if the controller has it", word)
        if meaning.does == "refused":
            self.fail(f"{meaning.code} cannot be proved: {meaning.why}", "take it out", word)
        other = self.codes.get(meaning.group)
        if other is not None:
            wrong = f"{other[1].text} and {word.text} in one block: of the group '{meaning.group}' only one may stand in it"
            self.fail(wrong, "keep one of them, or put them into two blocks", word)
        self.codes[meaning.group] = (meaning, word)

    def _unknown_letter(self, word: Word) -> NoReturn:
        rotaries = self.dialect.profile.rotary
        allowed = " ".join(sorted({*self.dialect.letters, *self.dialect.code_letters, self.dialect.profile.program.block_numbers.letter}))
        if word.letter in "ABC":
            mounted = ", ".join(rotaries) or "none"
            wrong = f"{word.text} moves a rotary axis {word.letter} that this program does not turn; the profile's rotary: {mounted}"
            if self.dialect.replaced >= 0:
                wrong += f", turned by the word {AXES[self.dialect.replaced]}"
            self.fail(wrong, "take the word out, or choose the profile of the machine it is meant for", word)
        if word.letter == "E":
            wrong = f"{word.text}: an exponent, or a letter E; neither exists in a program"
            self.fail(wrong, "write the number in full, 0.001 for 1E-3", word)
        self.fail(f"{word.text}: this controller has no words with {word.letter}, it has {allowed}", "correct the letter", word)
