"""One word of a program for two rotaries, or a head, mistyped: the refusal names its line, what it says and what it should say."""

from __future__ import annotations

import re
from typing import Any

import pytest

from chain_programs import C_ON_A, GAUGE, HEAD_AND_TABLE, bowl, machine, planes, verdict, written
from steadyrest.proof import Failure
from steadyrest.toolpath import Toolpath


def failure(toolpath: Toolpath, chain: dict[str, Any], line: int, letter: str, step: float, **settings: Any) -> tuple[Failure, str, float]:
    """What is found with the number of a word changed, counted from the first line after the head; and its line and the right number."""
    profile = machine(chain, **settings)
    maker = written(toolpath, profile)
    found = re.search(rf"{letter}(-?[\d.]+)", maker.text[line])
    assert found is not None
    right = float(found[1])
    maker.text[line] = f"{maker.text[line][: found.start(1)]}{right + step:.4f}{maker.text[line][found.end(1) :]}"
    told = verdict(maker.program(), toolpath, profile, gauge_lengths=GAUGE).failure
    assert told is not None
    return told, maker.text[line], right


@pytest.mark.parametrize(
    ("line", "letter", "step"),
    [(1, "C", 3.0), (1, "A", -2.0), (2, "X", 1.0), (2, "Y", 10.0), (6, "X", -0.3), (7, "Y", 0.5), (7, "Z", -0.2)],
)
@pytest.mark.parametrize("chain", [C_ON_A, HEAD_AND_TABLE], ids=["table", "head"])
def test_a_word_of_a_plane_is_named(chain: dict[str, Any], line: int, letter: str, step: float) -> None:
    letter = "B" if letter == "A" and chain is HEAD_AND_TABLE else letter
    told, text, right = failure(planes(), chain, line, letter, step)
    says, asks = re.match(rf"{letter}(-?[\d.]+); the toolpath asks for (-?[\d.]+) ", told.sentence).groups()  # type: ignore[union-attr]
    assert float(says) == pytest.approx(right + step, abs=1e-4)
    assert float(asks) == pytest.approx(right, abs=2e-3)
    assert told.place.line == 8 + line, text


@pytest.mark.parametrize(("letter", "step"), [("X", 0.4), ("Z", -0.1), ("A", 0.3), ("C", -2.0)])
def test_a_word_of_a_block_that_turns_is_named(letter: str, step: float) -> None:
    told, _, right = failure(bowl(100), C_ON_A, 60, letter, step)
    assert f"{letter}{right + step:.8g}; the toolpath asks for " in told.sentence
    asks = re.search(r"asks for (-?[\d.]+) ", told.sentence)
    assert asks is not None
    assert float(asks[1]) == pytest.approx(right, abs=3e-3)


def test_where_no_single_word_does_it_none_is_named() -> None:
    toolpath, profile = planes(), machine(C_ON_A)
    maker = written(toolpath, profile)
    maker.text[1] = "G0 C12 A34"
    told = verdict(maker.program(), toolpath, profile).failure
    assert told is not None
    assert "the toolpath asks for" not in told.sentence


@pytest.mark.parametrize(("aside", "named"), [(0.028, True), (0.034, False)])
def test_a_word_is_named_where_with_it_right_no_more_is_left_than_three_times_what_is_allowed(aside: float, named: bool) -> None:
    """A hundredth of a millimetre and the rounding are allowed: 0.0307 mm may be left by another word."""
    toolpath, profile = planes(), machine(C_ON_A)
    maker = written(toolpath, profile)
    assert maker.text[6] == "G94 G1 X-1.0000 Y-27.1781 Z41.5996 F500"
    maker.text[6] = f"G94 G1 X-1.5 Y{-27.1781 + aside:.4f} Z41.5996 F500"
    told = verdict(maker.program(), toolpath, profile).failure
    assert told is not None
    assert ("X-1.5; the toolpath asks for -1 mm" in told.sentence) is named


def test_a_height_at_which_a_cut_starts_is_named_where_every_word_across_the_tool_axis_is_right() -> None:
    told, _, right = failure(planes(), C_ON_A, 4, "Z", 1.0)
    assert told.sentence.startswith(f"Z{right + 1:.4f}; the toolpath asks for {right:.4f} mm: the cut starts 1 mm from where it should")
