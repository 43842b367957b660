"""Plain lines taken many at once mean exactly what the same lines mean one by one, also when a byte of them is changed."""

from __future__ import annotations

from itertools import pairwise
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.errors import ProgramError
from steadyrest.profile import Profile, bundled_folder, load_profile
from steadyrest.reading import EventRead, Lenient, MotionRead, no_arcs, read_program
from steadyrest.reading import program as program_module
from steadyrest.reading.dialect import code_key, read_dialect

COLUMNS = ("line", "motion", "end_mm", "rotary_deg", "minutes", "feed_word", "feed_mode", "clear", "cycle")
EXAMPLES = settings.default.max_examples * 2 // 5
"""Each of them is tried with every dialect."""
ARCS = ("centre_mm", "plane", "sweep_rad", "full_turns")
COLUMNS += ARCS


def bundled() -> dict[str, Profile]:
    return {folder.name: load_profile(folder) for folder in sorted(bundled_folder().iterdir()) if folder.is_dir()}


PROFILES = bundled() | {
    "seconds and all axes": load_profile("inverse-seconds", ["feed.per_minute_counts=all_axes", "feed.largest_mm=500"]),
    "steps in inch": load_profile(
        "incremental", ["units.mm=", "units.inch=", "units.program=inch", "codes.absolute=", "codes.incremental="]
    ),
    "counts in inch": load_profile("counts-numbered", ["units.mm="]),
}


def head(name: str) -> str:
    """Blocks that state what the profile has a code for."""
    profile = PROFILES[name]
    incremental = profile.words.distance == "incremental"
    distance = profile.codes.incremental if incremental else profile.codes.absolute
    modes = [profile.codes.plane_xy, profile.units.mm or profile.units.inch, distance, profile.feed.per_minute_code]
    lines = [profile.program.start_mark, " ".join(modes)]
    if profile.retract.form == "machine_zero":
        lines.append(f"{profile.retract.machine_code} {profile.codes.rapid} Z0")
    return "\n".join(line for line in lines if line.strip()) + "\n"


def tail(name: str) -> str:
    profile = PROFILES[name]
    return f"{profile.stops.end}\n{profile.program.end_mark}\n"


def rotary_letter(name: str) -> str:
    return next(iter(PROFILES[name].rotary), "A")


def gathered(
    text: bytes, dialect: Profile, *, fast: bool, lenient: Lenient | None = None
) -> tuple[list[tuple[int, EventRead]], dict[str, np.ndarray]] | str:
    """All events, each with the number of rows before it, and all rows as columns; or the words of the refusal."""
    shortest = 1 if fast else 10**9
    events: list[tuple[int, EventRead]] = []
    runs: list[MotionRead] = []
    rows = 0
    with patch.object(program_module, "SHORTEST_RUN", shortest):
        try:
            for item in read_program(text, dialect, lenient=lenient):
                if isinstance(item, MotionRead):
                    assert len(item)
                    assert item.arcs is None or (item.motion > 1).any()
                    runs.append(item)
                    rows += len(item)
                else:
                    events.append((rows, item))
        except ProgramError as refused:
            return str(refused)
    for before, after in pairwise(runs):
        if not any(before.line[-1] < event.line <= after.line[0] for _, event in events):
            np.testing.assert_array_equal(before.end_mm[-1], after.vertex_mm[0])
            np.testing.assert_array_equal(before.rotary_deg[-1], after.vertex_deg[0])
    return events, {name: column(runs, name) for name in COLUMNS}


def column(runs: list[MotionRead], name: str) -> np.ndarray:
    parts = [getattr((run.arcs or no_arcs(len(run))) if name in ARCS else run, name) for run in runs]
    return np.concatenate(parts) if parts else np.empty(0)


def check_same(text: bytes, dialect: Profile, lenient: Lenient | None = None) -> None:
    fast, slow = gathered(text, dialect, fast=True, lenient=lenient), gathered(text, dialect, fast=False, lenient=lenient)
    if isinstance(fast, str) or isinstance(slow, str):
        assert slow == fast
        return
    assert but_cycles(slow[0]) == but_cycles(fast[0])
    for name in COLUMNS:
        np.testing.assert_array_equal(slow[1][name], fast[1][name], err_msg=name)


def but_cycles(events: list[tuple[int, EventRead]]) -> list[str]:
    """All but those before holes, of which like holes on neighbouring lines need only one."""
    return [f"{rows} {event}" for rows, event in events if event.kind != "cycle"]


number = st.one_of(
    st.integers(-400, 400).map(str),
    st.decimals(-400, 400, places=3, allow_nan=False, allow_infinity=False).map(lambda value: format(value, "f")),
    st.sampled_from(["0", "-0", "+1.5", ".5", "-.25", "7.", "-0.", "180", "359.999", "-360", "1234567.891", "00012.50", "12 . 5", "- 3"]),
)
radius_number = st.sampled_from(["5", "5.", "-5", "7.25", "0", "12.0005", "0.3"])
feed_number = st.sampled_from(["100", "100", "250.5", "33.3", "1000", "0", "-5", "0.25"])


comment = st.sampled_from(
    ["(a note)", " (X1) ", "(", "()", "(a) (b)", "(a (b))", ";semicolon (", "; ", "(\xf6)", "(\xff\tb)", "(a;b)", "\xf6"]
)


@st.composite
def plain_line(draw: st.DrawFn) -> str:
    words = [letter + draw(number) for letter in draw(st.lists(st.sampled_from("XYZA"), unique=True, max_size=4))]
    if draw(st.integers(0, 3)) == 0:
        words.append("F" + draw(feed_number))
    if draw(st.integers(0, 9)) == 0:
        words += [letter + draw(radius_number) for letter in draw(st.lists(st.sampled_from("IJKR"), unique=True, max_size=2))]
    if draw(st.integers(0, 5)) == 0:
        words.insert(0, draw(st.sampled_from(["G1", "G0", "G01", "G1.0", "G2", "G03"])))
    if draw(st.integers(0, 5)) == 0:
        words.insert(0, "N" + draw(st.sampled_from(["10", "00020", "99999", "000030"])))
    if draw(st.integers(0, 5)) == 0:
        words[:0] = draw(st.lists(st.sampled_from(["G90", "G90", "G91", "G94", "G94", "G93", "G17", "G18", "G21", "G20"]), max_size=2))
    if draw(st.integers(0, 9)) == 0:
        words.insert(0, draw(st.sampled_from(["G53", "G53 G0"])))
    line = draw(st.sampled_from([" ", "", "  ", "\t"])).join(words)
    line = line.lower() if draw(st.integers(0, 9)) == 0 else line
    return line + draw(comment) if draw(st.integers(0, 5)) == 0 else line


QUARTERS = ((1, 0), (0, 1), (-1, 0), (0, -1))


@st.composite
def arc_lines(draw: st.DrawFn, *, right: bool) -> str:
    """The way to a place and arcs from there, each some quarters of a turn: right in XY and with positions, or right perhaps."""
    first, second, third = "XYZ" if right else draw(st.sampled_from(["XYZ", "XYZ", "XYZ", "ZXY", "YZX"]))
    centre_of = dict(zip("XYZ", "IJK", strict=True))
    u, v = draw(st.integers(-50, 50)), draw(st.integers(-50, 50))
    steps = not right and draw(st.booleans())
    slip = 0 if right else draw(st.sampled_from([0, 0, 0, 0.001, 0.01]))
    lines = [f"G{draw(st.integers(0, 1))} {first}{u}. {second}{v}. F100"]
    modal = ["G2", "G3", "G02"]
    for _ in range(draw(st.integers(1, 4))):
        i, j = draw(st.integers(-9, 9)), draw(st.integers(1, 9))
        cos, sin = draw(st.sampled_from(QUARTERS))
        end = (u + i - i * cos + j * sin, v + j - i * sin - j * cos)
        given = (end[0] - u + slip, end[1] - v) if steps else (end[0] + slip, end[1])
        words = [draw(st.sampled_from(modal)), f"{first}{given[0]}.", f"{second}{given[1]}."]
        chord = float(np.hypot(end[0] - u, end[1] - v))
        if chord and draw(st.integers(0, 3)) == 0:
            words.append(f"R{draw(st.sampled_from([chord * 0.75, chord, -chord] + [4.0, chord / 2, chord / 3] * (not right))):.4f}")
        else:
            words += [f"{centre_of[first]}{i}.", f"{centre_of[second]}{j}."]
        if draw(st.integers(0, 4)) == 0:
            words.append(f"{third}{draw(st.integers(-9, 9))}.")
        if not right and draw(st.integers(0, 6)) == 0:
            words.pop(draw(st.integers(0, len(words) - 1)))
        lines.append(" ".join(words).replace("..", "."))
        modal = ["G2", "G3", "G02", ""]
        u, v = end
    return "\n".join(lines)


other_line = st.sampled_from(
    [
        "",
        "(a note)",
        "; a note",
        "G0",
        "G53 G0 Z0",
        "G53 G0 Z0 (up)",
        "G53 X1 Y1",
        "G53 G1 Z-1",
        "F200",
        "M8",
        "M9 (off)",
        "M8",
        "S500 M3",
        "M3 S1e9",
        "S600",
        "S-5",
        "M5",
        "N20 T1 M6",
        "T2",
        "M0",
        "M1 ; look",
        "G4 P1 X3",
        "G4 X2",
        "G4",
        "M10",
        "G91",
        "G90",
        "G20",
        "G21",
        "G17",
        "G18",
        "G19",
        "G93",
        "G94 F150",
        "G4 P0.5",
        "G54",
        "G53 G0 Z0",
        "G2 X10 Y0 I5 J0",
        "G1 X1 Y2 Z3 A4 F100",
        "x1 y2",
        "/X1",
        "X1 X2",
        "G81 X1 Y1 Z-1 R2 F50 G98",
        "X[1+1]",
    ]
)
start = st.sampled_from(["G0 X0 Y0 Z5 A0", "G1 X0 Y0 Z5 A0 F100", "G0", "G1 F100 X1", "G0 X0 Z5"])
body = st.lists(st.one_of(plain_line(), plain_line(), plain_line(), plain_line(), other_line, arc_lines(right=False)), max_size=30)
plain_body = st.lists(plain_line(), min_size=2, max_size=30)
arcs_body = st.lists(arc_lines(right=True), min_size=1, max_size=6)
mixed_arcs_body = st.lists(st.one_of(arc_lines(right=True), arc_lines(right=False), plain_line()), min_size=1, max_size=8)


@pytest.mark.parametrize("name", PROFILES)
@settings(max_examples=EXAMPLES, deadline=None)
@given(first=start, lines=st.one_of(body, plain_body, arcs_body, mixed_arcs_body))
def test_runs_give_the_same_rows_as_single_blocks(name: str, first: str, lines: list[str]) -> None:
    text = head(name) + "\n".join([first, *lines, tail(name)])
    check_same(text.replace("A", rotary_letter(name)).encode(), PROFILES[name])


@pytest.mark.parametrize("name", ["rs274ngc", "counts-numbered", "incremental", "rollover-shortest", "y-drives-rotary"])
@pytest.mark.parametrize("encoding", ["utf-8", "latin-1"])
@settings(max_examples=EXAMPLES, deadline=None)
@given(first=st.one_of(start, st.just("")), lines=st.one_of(body, plain_body, arcs_body, mixed_arcs_body))
def test_runs_give_the_same_rows_in_a_program_from_elsewhere(name: str, encoding: str, first: str, lines: list[str]) -> None:
    text = head(name) + "\n".join([first, *lines, tail(name)])
    check_same(text.replace("A", rotary_letter(name)).encode(encoding), PROFILES[name], Lenient(("M8",), 1.0))


@st.composite
def right_line(draw: st.DrawFn) -> str:
    """A line that most controllers take, wherever it stands."""
    if draw(st.integers(0, 2)) == 0:
        others = [
            "G53 G0 Z0",
            "G53 G1 Z0 (up)",
            "G91",
            "G90",
            "G93",
            "G94",
            "F200",
            "M8",
            "M9 (off)",
            "S500 M3",
            "G4 P1.",
            "(note)",
            "",
            "N10",
        ]
        return draw(st.sampled_from(others))
    words = [f"{letter}{draw(st.integers(-9, 9))}." for letter in draw(st.lists(st.sampled_from("XYZ"), unique=True, min_size=1))]
    words += [f"A{draw(st.integers(0, 89))}."] * draw(st.integers(0, 1)) + draw(
        st.sampled_from([[], ["F100"], ["F100 (note)"], ["(note)"]])
    )
    return " ".join(
        [*draw(st.lists(st.sampled_from(["G90", "G91", "G94", "G21", "G17"]), max_size=1)), draw(st.sampled_from(["G0", "G1", ""])), *words]
    )


@pytest.mark.parametrize("lenient", [None, Lenient()])
@pytest.mark.parametrize("name", PROFILES)
@settings(max_examples=EXAMPLES, deadline=None)
@given(lines=st.lists(right_line(), min_size=5, max_size=40))
def test_right_programs_give_the_same_rows_in_runs_and_line_by_line(name: str, lenient: Lenient | None, lines: list[str]) -> None:
    codes = read_dialect(PROFILES[name]).codes
    spoken = [line for line in lines if all(code_key(word) in codes for word in line.split() if word[:1] in ("G", "M"))]
    text = head(name) + "\n".join(["G1 X0. Y0. Z5. A0. F100", *spoken, tail(name)])
    check_same(text.replace("A", rotary_letter(name)).encode(), PROFILES[name], lenient)


place_line = st.tuples(st.integers(-9, 9), st.integers(-9, 9), st.sampled_from(["X{}. Y{}.", "X{}.", "Y{}.", "N10 X{}."])).map(
    lambda drawn: drawn[2].format(*drawn[:2])
)


@pytest.mark.parametrize("name", PROFILES)
@settings(max_examples=EXAMPLES, deadline=None)
@given(
    level=st.sampled_from(["G98", "G99"]),
    code=st.sampled_from(["G81", "G82 P0.5", "G83 Q0.7", "G84", "G85", "G73 K0.7"]),
    words=st.sampled_from(["R2. Z-3.", "R8. Z-3.", "R2. Z2."]),
    lines=st.lists(st.one_of(*[place_line] * 9, plain_line(), other_line), min_size=2, max_size=30),
)
def test_holes_in_runs_give_the_same_rows_as_hole_by_hole(name: str, level: str, code: str, words: str, lines: list[str]) -> None:
    text = head(name) + "\n".join(["G0 X0 Y0 Z5. A0 S500 M3", f"{level} {code} X1. Y1. {words} F50", *lines, tail(name)])
    check_same(text.replace("A", rotary_letter(name)).encode(), PROFILES[name])


def test_like_holes_are_read_in_runs() -> None:
    text = (
        head("rs274ngc") + "G0 X0 Y0 Z5 A0\nG99 G81 X1 R2 Z-3 F100\n" + "\n".join(f"X{n}" for n in range(2, 60)) + "\n" + tail("rs274ngc")
    )
    with patch.object(program_module, "carry_out", wraps=program_module.carry_out) as one_by_one:
        read = gathered(text.encode(), PROFILES["rs274ngc"], fast=True)
    assert not isinstance(read, str), read
    assert len(read[1]["line"]) == 2 + 4 + 58 * 3
    assert one_by_one.call_count == 5
    check_same(text.encode(), PROFILES["rs274ngc"])


DENSE = "\n".join(f"X{n * 1.25 - 3:.3f} Y-{n}.5 Z{n % 7}. A{n * 3.5:.3f} F{100 + n}" for n in range(12))


@pytest.mark.parametrize("name", PROFILES)
@settings(max_examples=2 * EXAMPLES, deadline=None)
@given(place=st.integers(0, len(DENSE) - 1), byte=st.sampled_from(b"0123456789+-.,XYZABFGN /;()[]#%:@\n\r\t\x00\xff=*"))
def test_a_changed_byte_is_read_the_same_both_ways(name: str, place: int, byte: int) -> None:
    lines = bytearray(DENSE.encode())
    lines[place] = byte
    text = (head(name) + "G1 X0 Y0 Z5 A0 F100\n").encode() + bytes(lines) + f"\n{tail(name)}".encode()
    check_same(text.replace(b"A", rotary_letter(name).encode()), PROFILES[name])


def test_the_dense_program_is_read_in_runs() -> None:
    text = head("rs274ngc") + "G1 X0 Y0 Z5 A0 F100\n" + DENSE + "\n" + tail("rs274ngc")
    with patch.object(program_module, "carry_out", wraps=program_module.carry_out) as one_by_one:
        read = gathered(text.encode(), PROFILES["rs274ngc"], fast=True)
    assert not isinstance(read, str)
    assert len(read[1]["line"]) == 14
    assert one_by_one.call_count == 3


def test_arcs_are_read_in_runs() -> None:
    lines = "G2 X10 Y0 I5 J0\nG3 X0 Y0 R5\nX3 Y3 I0 J3 Z1\nG2 X3 Y3 I0 J4\nM8 (on)\n(note)\nG1 X0 Y0\n" * 3
    text = head("rs274ngc") + "G1 X0 Y0 Z5 A0 F100\n" + "G1 X0 Y0\n".join(["", lines, lines]) + tail("rs274ngc")
    with patch.object(program_module, "carry_out", wraps=program_module.carry_out) as one_by_one:
        read = gathered(text.encode(), PROFILES["rs274ngc"], fast=True)
    assert not isinstance(read, str), read
    assert one_by_one.call_count == 3
    check_same(text.encode(), PROFILES["rs274ngc"])
