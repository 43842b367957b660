"""What is written for two rotaries is read back as asked: each turns by the rules of its own travel, in numbers of its own."""

from __future__ import annotations

import re
from functools import cache
from itertools import product
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_reading_fast_and_slow import check_same, comment, number

from steadyrest.conventions import LINE, PER_MINUTE, RAPID
from steadyrest.errors import PlanError, ProfileError, ProgramError
from steadyrest.motion import Motion
from steadyrest.profile import Profile, load_profile, resolve, shared_templates_folder
from steadyrest.reading import EventRead, MotionRead, read_program
from steadyrest.reading import program as program_module
from steadyrest.writing import write_program

NAN = float("nan")
TRAVELS = {
    "unlimited": ('{kind = "unlimited"}', 900.0),
    "limited": ('{kind = "limited", from = -120, to = 130}', 100.0),
    "shortest": ('{kind = "rollover", rule = "shortest"}', 179.0),
    "sign": ('{kind = "rollover", rule = "sign"}', 359.0),
}
"""Of each its setting, and the most that a block may turn."""
KINDS = [*((c, a, False) for c, a in product(TRAVELS, TRAVELS)), *((c, a, True) for c, a in product(("unlimited", "limited"), repeat=2))]


C = 'rotary.C={along = "Z", chuck_faces = "+Z", positive_turns_chuck = "clockwise"}'


@cache
def machine(c: str = "unlimited", a: str = "unlimited", steps: bool = False, numbers: str = "") -> Profile:
    """C carried by A, each with its travel."""
    sets = [
        'chain="part C A bed spindle"',
        C,
        f"rotary.C.travel={TRAVELS[c][0]}",
        'rotary.C.unwinding.at_end="zero"',
        f"rotary.A.travel={TRAVELS[a][0]}",
        'rotary.A.unwinding.at_end="zero"',
        'rotary.A.clamp={use = "indexing", on = "M10", off = "M11"}',
        'rotary.C.clamp={use = "indexing", on = "M12", off = "M13"}',
        *([numbers] if numbers else []),
    ]
    if steps:
        return load_profile("incremental", [*sets, "program.start_position=[0, 0, 150, 0, 0]"])
    return load_profile("rs274ngc", sets)


def run_of(places: np.ndarray, motion: int = LINE) -> Motion:
    """Columns X, Y, Z and the angles of C and A."""
    n = len(places)
    feed, mode = np.full(n, NAN if motion == RAPID else 100.0), np.full(n, PER_MINUTE, np.uint8)
    return Motion(np.full(n, motion, np.uint8), places[:, :3], places[:, 3:], feed, np.arange(1, n + 1), np.zeros(n), mode, None, 1, "cut")


def program(runs: list[Motion], profile: Profile) -> bytes:
    distance = profile.codes.incremental if profile.words.distance == "incremental" else profile.codes.absolute
    modes = f"{profile.codes.plane_xy} {profile.units.mm} {distance} {profile.feed.per_minute_code}"
    lines = b"".join(write_program(runs, profile, [shared_templates_folder()], inch=False, rotary_letters=["C", "A"])).decode()
    return f"{profile.program.start_mark}\n{modes}\n{lines}{profile.stops.end}\n{profile.program.end_mark}\n".encode()


def angles_read(text: bytes, profile: Profile) -> np.ndarray:
    runs = [item for item in read_program(text, profile) if isinstance(item, MotionRead)]
    return np.concatenate([run.rotary_deg for run in runs])


@settings(deadline=None)
@given(data=st.data(), kinds=st.sampled_from(KINDS), numbers=st.sampled_from(["", "numbers.by_letter.C={decimals = 4, point = 'counts'}"]))
def test_each_rotary_is_read_back_where_it_was_sent(data: st.DataObject, kinds: tuple[str, str, bool], numbers: str) -> None:
    c, a, steps = kinds
    profile = machine(c, a, steps, numbers)
    asked, said = np.zeros((8, 2)), np.zeros((8, 2))
    for rotary, kind in enumerate((c, a)):
        most = int(1000 * TRAVELS[kind][1])
        turn = st.one_of(st.none(), st.integers(-most, most), st.sampled_from([0, most, -most]))  # none: no word, so that it stays
        way = data.draw(st.lists(turn, min_size=7, max_size=7))
        counts = (0 if steps else data.draw(st.integers(0, 100_000))) + np.cumsum([0, *(step or 0 for step in way)])
        asked[:, rotary] = np.clip(counts, -120_000, 130_000) / 1000 if kind == "limited" else counts / 1000
        said[:, rotary] = np.where([False, *(step is None for step in way)], NAN, asked[:, rotary])
    places = np.column_stack((np.arange(8.0), np.zeros(8), np.full(8, 150.0), said))
    got = angles_read(program([run_of(places)], profile), profile)
    np.testing.assert_allclose(got[-len(asked) :], asked, rtol=0, atol=1e-9)


def test_both_words_stand_in_the_order_of_the_profile_each_in_its_own_numbers() -> None:
    places = np.array([[1, 0, 5, 10, -30], [2, 0, 5, 370, -30], [3, 0, 5, 370, 0.0005]])
    text = program([run_of(places)], machine(numbers="numbers.by_letter.A={decimals = 2}")).decode()
    assert ["G94 G1 X1 Y0 Z5 A-30 C10 F100", "X2 C370", "X3 A0"] == [line for line in text.splitlines() if re.search(r"X\d", line)]


@pytest.mark.parametrize(("letter", "turn", "kinds"), [("C", [190, 0], ("shortest", "unlimited")), ("A", [0, 361], ("unlimited", "sign"))])
def test_a_turn_that_one_word_cannot_say_is_refused_by_the_letter_of_its_rotary(
    letter: str, turn: list[int], kinds: tuple[str, str]
) -> None:
    places = np.array([[0, 0, 5, 0, 0], [1, 0, 5, *turn]], float)
    with pytest.raises(PlanError, match=f"a block turns {letter} by"):
        program([run_of(places)], machine(*kinds))


def test_a_rotary_that_the_profile_lacks_is_not_written() -> None:
    profile = resolve("rs274ngc").profile
    with pytest.raises(ProfileError, match="has no rotary C"):
        write_program([], profile, [shared_templates_folder()], inch=False, rotary_letters=["C", "A"])


@st.composite
def line_of_two(draw: st.DrawFn) -> str:
    """A line as it may stand in a program of two rotaries, right or wrong."""
    words = [letter + draw(number) for letter in draw(st.lists(st.sampled_from("XZAC"), unique=True, max_size=4))]
    if draw(st.integers(0, 5)) == 0:
        words.insert(0, draw(st.sampled_from(["G1", "G0", "G53 G0", "G90", "G91", "G94"])))
    words += ["F" + draw(st.sampled_from(["100", "250.5"]))] * (draw(st.integers(0, 3)) == 0)
    return " ".join(words) + draw(comment) * (draw(st.integers(0, 5)) == 0)


OTHERS = ["", "M10", "M11", "M12", "G54", "G55", "G28 Z0", "G81 X1 C5 Z-1 R2 F50 G98", "G4 P0.5", "G93", "G2 X3 Y0 I1 J0 C7", "M8"]
HEAD = "%\nG17 G21 G90 G94\n"


@pytest.mark.parametrize("kinds", [("unlimited", "limited"), ("shortest", "unlimited"), ("sign", "shortest")])
@settings(max_examples=60, deadline=None)
@given(
    first=st.sampled_from(["G0 X0 Z5 A0 C0", "G1 X0 Z5 A0 F100", "G0"]),
    lines=st.lists(st.one_of(line_of_two(), line_of_two(), line_of_two(), st.sampled_from(OTHERS)), max_size=20),
)
def test_runs_of_two_rotaries_give_the_same_rows_as_single_blocks(kinds: tuple[str, str], first: str, lines: list[str]) -> None:
    check_same((HEAD + "\n".join([first, *lines, "M2\n%\n"])).encode(), machine(*kinds))


@pytest.mark.parametrize("kinds", list(product(TRAVELS, TRAVELS)))
def test_lines_of_two_rotaries_are_read_in_runs(kinds: tuple[str, str]) -> None:
    lines = [f"X{k} C{k % 300 * 0.25:g} A{k % 200 * 0.5:g}" for k in range(2000)]
    text = (HEAD + "\n".join(["G1 X0 Y0 Z5 A0 C0 F100", *lines, "M2\n%\n"])).encode()
    with patch.object(program_module, "carry_out", wraps=program_module.carry_out) as one_by_one:
        got = angles_read(text, machine(*kinds))
    assert 2001 == len(got)
    assert 3 == one_by_one.call_count
    np.testing.assert_allclose(got[-1] % 360, [1999 % 300 * 0.25, 1999 % 200 * 0.5], atol=1e-9)


@pytest.mark.parametrize(
    ("body", "wrong"),
    [
        ("G0 A5 B3", "B3 moves a rotary axis B that this program does not turn; the profile's rotary: A, C"),
        ("G0 A0\nG91 G0 A10 C10", "C10 is a step from an unknown angle"),
        ("G0 A1 A2", "two words A in one block"),
        ("G53 G0 Z0 C5", "C5 in machine coordinates: where the rotary's machine zero is"),
        ("G0 X0 Y0 Z5 A0 C0\nG81 X1 A0 C9 Z-1 R2 F50 G98", "the rotary would turn in a drilling cycle"),
        ("G0 X0 Y0 Z5 A0\nG81 X1 C9 Z-1 R2 F50 G98", "a rotary word in a drilling cycle, and the rotary's position is unknown"),
    ],
)
def test_what_is_wrong_with_a_word_of_one_of_two_rotaries_is_said_of_it(body: str, wrong: str) -> None:
    with pytest.raises(ProgramError, match=wrong):
        list(read_program(f"{HEAD}{body}\nM2\n%\n".encode(), machine()))


def test_only_the_rotary_that_rolls_over_counts_within_a_turn() -> None:
    text = f"{HEAD}G0 C350 A350\nC10 A10\nG91 C20 A20\nG90 C20 A20\nM2\n%\n".encode()
    np.testing.assert_allclose([[350, 350], [370, 10], [390, 30], [380, 20]], angles_read(text, machine("shortest")), atol=1e-9)


@pytest.mark.parametrize(
    ("counts", "minutes"),
    [("linear_axes", [0.05, 0.03, 0.05]), ("all_axes", [0.05, 0.03, 0.05831]), ("tip", [NAN, 0.03, NAN])],
)
def test_two_rotaries_that_turn_together_take_the_root_of_the_sum_of_squares(counts: str, minutes: list[float]) -> None:
    """NISTIR 6556, 2.1.2.5: two rotaries alone; beside linear axes these alone count, unless all do."""
    profile = load_profile("tip-feed", ['chain="part C A bed spindle"', C, f"feed.per_minute_counts={counts}"])
    body = "G0 X0 Y0 Z5 A0 C0\nG1 A3 C4 F100\nX3\nX6 Y4 A6"
    runs = [item for item in read_program(f"{HEAD}{body}\nM2\n%\n".encode(), profile) if isinstance(item, MotionRead)]
    np.testing.assert_allclose(np.concatenate([run.minutes for run in runs])[1:], minutes, atol=1e-5)


def test_each_rotary_has_its_clamp_and_both_may_be_switched_in_one_block() -> None:
    read = read_program(f"{HEAD}M10 M12\nM11\nG0 X1\nM13\nM2\n%\n".encode(), machine())
    clamps = [(item.line, item.kind, item.text) for item in read if isinstance(item, EventRead) and "clamp" in item.kind]
    assert [(3, "clamp", "M12"), (3, "clamp", "M10"), (4, "unclamp", "M11"), (6, "unclamp", "M13")] == clamps
    with pytest.raises(ProgramError, match="M10 and M11 in one block: of the group 'clamp of A'"):
        list(read_program(f"{HEAD}M10 M11\nM2\n%\n".encode(), machine()))
