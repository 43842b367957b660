"""Whatever text a program is, it is read or refused with a place and a cure; nothing else ever comes out."""

from __future__ import annotations

import math
import re
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.errors import ProgramError
from steadyrest.profile import Profile, bundled_folder, load_profile
from steadyrest.reading import MotionRead, ProgramItem, read_program
from steadyrest.reading import block_words as blocks_module
from steadyrest.reading.program import read_block

PROFILES: dict[str, Profile] = {folder.name: load_profile(folder) for folder in sorted(bundled_folder().iterdir()) if folder.is_dir()}

WORDS = """
G0 G1 G2 G3 G17 G18 G20 G21 G90 G91 G93 G94 G53 G28 G81 G83 G98 G99 G80 G4 G43 G54 G55 M3 M5 M6 M8 M0 M30 M2 T1 H1 S100
X1 Y-2.5 Z3 A90 A-360 F100 I1 J0 K2 R5 P1 Q2 L2 N10 X[1+2] #1=3 X#1 (note) ;note / % O1 X Y. G X1E3 ** [ ] ( )
"""
pieces = st.sampled_from([*WORDS.split(), "\n", "\n", "\n", "\n"])
programs = st.one_of(st.binary(max_size=200), st.lists(pieces, max_size=60).map(lambda each: " ".join(each).encode()))


def head(profile: Profile) -> bytes:
    modes = [profile.codes.plane_xy, profile.units.mm, profile.codes.absolute, profile.feed.per_minute_code, profile.cycles.return_to_r]
    start = [profile.program.start_mark, " ".join(modes), f"{profile.codes.rapid} X0 Y0 Z50"]
    return "\n".join(line for line in start if line.strip()).encode() + b"\n"


def read_or_refused(text: bytes, profile: Profile) -> tuple[list[ProgramItem], ProgramError | None]:
    try:
        return list(read_program(text, profile)), None
    except ProgramError as refused:
        return [], refused


def check(text: bytes, profile: Profile) -> None:
    items, refused = read_or_refused(text, profile)
    if refused is not None:
        assert refused.wrong
        assert refused.cure
        assert refused.place.line is not None or "empty" in refused.wrong
    for item in items:
        if isinstance(item, MotionRead):
            count = len(item)
            assert (count, 3) == item.end_mm.shape
            assert (np.diff(item.line) >= 0).all()
            assert not np.isinf(item.end_mm).any()
            at_feed = item.motion != 0
            assert (item.feed_word[at_feed] > 0).all()
            assert np.isnan(item.minutes[~at_feed]).all()


@pytest.mark.parametrize("name", PROFILES)
@given(text=programs, started=st.booleans())
def test_any_text_is_read_or_refused(name: str, text: bytes, started: bool) -> None:
    profile = PROFILES[name]
    check((head(profile) if started else b"") + text, profile)


@given(value=st.decimals(-99999, 99999, places=4, allow_nan=False, allow_infinity=False))
def test_a_written_number_is_the_nearest_float(value: object) -> None:
    text = f"%\nG17 G21 G90 G94\nG0 X{value:f}\nX{value:f}\nX{value:f}\nX{value:f}\nX{value:f}\nM2\n%"
    got = [row for item in read_program(text.encode(), PROFILES["rs274ngc"]) if isinstance(item, MotionRead) for row in item.end_mm]
    assert [float(f"{value:f}")] * 5 == [row[0] for row in got]


@given(angles=st.lists(st.integers(0, 359_999), min_size=1, max_size=40))
def test_the_shortest_way_is_never_more_than_half_a_turn(angles: list[int]) -> None:
    words = [f"A{angle / 1000:.3f}" for angle in angles]
    text = "%\nG21 G90\n" + "\n".join(f"G0 {word}" for word in words) + "\nM30\n%"
    items, refused = read_or_refused(text.encode(), PROFILES["rollover-shortest"])
    if refused is not None:
        assert "half a turn" in refused.wrong
        return
    turned = np.concatenate([item.rotary_deg[:, 0] for item in items if isinstance(item, MotionRead)])
    assert (np.abs(np.diff(turned)) < 180).all()
    np.testing.assert_allclose(turned % 360, np.array(angles) / 1000, atol=1e-9)


@given(words=st.lists(st.tuples(st.booleans(), st.integers(0, 360_000)), min_size=1, max_size=40))
def test_by_sign_the_rotary_turns_the_way_of_the_sign_and_less_than_a_turn(words: list[tuple[bool, int]]) -> None:
    spelled = [f"{'-' if back and angle else ''}{angle / 1000:.3f}" for back, angle in words]
    text = "%\nG21 G90\n" + "\n".join(f"G0 A{word}" for word in spelled) + "\nM30\n%"
    items = list(read_program(text.encode(), PROFILES["rollover-sign"]))
    turned = np.concatenate([item.rotary_deg[:, 0] for item in items if isinstance(item, MotionRead)])
    for step, word in zip(np.diff(turned), spelled[1:], strict=True):
        assert abs(step) < 360
        assert step == 0 or (step < 0) == word.startswith("-")
    np.testing.assert_allclose(turned % 360, [math.fmod(abs(float(word)), 360) for word in spelled], atol=1e-9)


@pytest.mark.parametrize("style", ["parentheses", "semicolon", "none"])
@given(text=st.one_of(st.text(st.characters(max_codepoint=130), max_size=30), st.lists(pieces, max_size=6).map(" ".join)))
def test_the_short_way_for_plain_blocks_gives_what_the_grammar_gives(style: str, text: str) -> None:
    def block() -> str:
        try:
            return str(read_block(text, 1, comment_style=style, parameters={1: 2.0}))
        except ProgramError as refused:
            return str(refused)

    short = block()
    with patch.object(blocks_module, "_PLAIN", {style: re.compile("(?!)")}):
        assert block() == short
