from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from viewer_parts import FLATS, looked, part, program_of

from chain_programs import C_ON_A, HEAD_AND_TABLE, machine
from steadyrest.errors import SteadyrestError
from steadyrest.motion import lines_of, tip_in_part
from steadyrest.profile import chain_of, load_profile
from steadyrest.proof import prove, setting_of
from steadyrest.reading import read_program
from steadyrest.toolpath import load_toolpath
from steadyrest.viewer.track import thinned, track_of

TOUR = {file.name.split(".")[0]: file for file in sorted((Path(__file__).parents[2] / "golden" / "tour").glob("*.toolpath.json"))}
REFERENCE = load_profile("rs274ngc")
BEGIN = "G21 G90 G94 G17 G54 G40\nT1 M6\nG53 G0 Z0\nG43 H1\nF100\n"


def tracked(program: str):
    """The track of lines between a retracted start and an end, all one operation."""
    setting = setting_of(part(), REFERENCE, None, None)
    return track_of(list(read_program(f"{BEGIN}{program}\nM2\n".encode(), REFERENCE)), setting), setting


def test_a_quarter_turn_of_the_reference_brings_the_tip_to_the_side_that_its_angle_names() -> None:
    # By hand, ISO 841 (from memory): sigma is -1, W = alpha; the tool over the axis at alpha 90 stands at R(90)(0, 0, 20), which is
    # (0, -20, 0) of the part.
    track, setting = tracked("G0 X-10 Y0 Z20 A0\nA90")
    np.testing.assert_allclose(track.part_mm(setting)[-1], [-10, -20, 0], atol=1e-9)


def test_a_turn_of_the_part_is_drawn_in_chords() -> None:
    track, setting = tracked("G0 X-10 Y0 Z20 A0\nG1 A360 F360")
    part_mm = track.part_mm(setting)[track.line == 7]
    middles = (part_mm[1:] + part_mm[:-1]) / 2
    assert np.hypot(middles[:, 1], middles[:, 2]).min() >= 20 * (1 - 0.0007)


def test_an_arc_is_drawn_along_its_circle() -> None:
    track, _ = tracked("G0 X10 Y0 Z20\nG3 X10 Y0 I-10 J0 F100")
    arc = track.place_mm[track.line == 7]
    np.testing.assert_allclose(np.hypot(arc[:, 0], arc[:, 1]), 10, atol=1e-9)
    assert len(arc) == 90


def test_time_is_that_of_the_f_word_and_pauses_count() -> None:
    track, _ = tracked("G0 X10 Y0 Z20\nG1 X60 F100\nG4 P30\nX70")
    at_20 = track.minutes[np.flatnonzero(track.line == 6)[-1]]
    at_60 = track.minutes[np.flatnonzero(track.line == 7)[-1]]
    assert pytest.approx(0.5) == at_60 - at_20
    assert pytest.approx(0.5 + 0.1) == track.minutes[-1] - at_60


def test_speeds_are_those_of_the_tip_over_the_part_and_of_the_rotary() -> None:
    # 90 degrees at radius 20 in half a minute: an arc of 10 pi mm, at 20 pi mm per minute.
    track, _ = tracked("G0 X0 Y0 Z20 A0\nG93 G1 A90 F2")
    assert pytest.approx(20 * np.pi, rel=1e-3) == track.tip_mm_per_min[-1]
    assert pytest.approx(180) == track.rotary_deg_per_min[-1]


def test_a_height_that_is_not_known_is_drawn_above_the_part_and_marked() -> None:
    track, _ = tracked("G0 X10 Y0 Z20\nG53 G0 Z0\nX30")
    retracted = track.line >= 7
    assert not track.known[retracted].any()
    assert (track.place_mm[retracted, 2] > 20).all()
    assert np.isfinite(track.place_mm).all()


def test_a_program_without_motion_has_a_track_of_one_position() -> None:
    track, _ = tracked("M5")
    assert len(track) <= 2
    assert np.isfinite(track.place_mm).all()


@pytest.mark.parametrize("name", TOUR)
@pytest.mark.parametrize("controller", ["rs274ngc", "rs274ngc-b", "limited-clamped", "upright-c"])
def test_every_operation_begins_at_its_own_comment(name: str, controller: str) -> None:
    toolpath, profile = load_toolpath(TOUR[name]), load_profile(controller)
    try:
        text = program_of(toolpath, controller=controller)
    except SteadyrestError:
        pytest.skip("this controller refuses it")
    setting = setting_of(toolpath, profile, None, None)
    items = list(read_program(text, profile, rotary_letter=setting.letter))
    verdict = prove(items, toolpath, profile)
    assert verdict.proved
    track = track_of(items, setting, verdict.operations)
    found = [int(track.line[np.searchsorted(track.operation, number)]) for number in range(1, track.operation.max() + 1)]
    lines = text.decode().splitlines()
    comments = [at for at, line in enumerate(lines, start=1) if re.search(r"\boperation \d", line, re.IGNORECASE)]
    assert len(toolpath.operations) == len(found)
    if len(comments) == len(found):
        ends = [*comments[1:], len(lines)]
        # What leads away from the last operation, up to the next one's comment, may count to either.
        assert all(begin >= before for begin, before in zip(found, [0, *comments[:-1]], strict=True))
        assert all(begin < end for begin, end in zip(found, ends, strict=True))
        cuts = ~track.rapid & track.known
        assert not any((cuts & (track.operation == number) & (track.line < at)).any() for number, at in enumerate(comments, start=1))


def test_what_comes_after_the_first_difference_is_not_given_to_an_operation() -> None:
    text = program_of(part())
    broken = text.replace(b"X-20", b"X-21", 1)
    seen = looked(text=broken)
    assert not seen.posted.verdict.proved
    assert seen.operation_names[-1] == "after the first difference: not compared"
    assert len(seen.operation_names) == seen.track.operation.max()


def test_thinning_keeps_within_what_it_says() -> None:
    angle = np.linspace(0, 40, 20_000)
    lines = "\n".join(f"G1 X{-a:.4f} Y0 Z{20 + np.sin(5 * a):.4f} A{360 * a / 8:.4f} F500" for a in angle)
    track, setting = tracked(lines)
    few = thinned(track, setting, most=2_000)
    assert len(few) <= 2_000 < few.whole
    whole_part, few_part = track.part_mm(setting), few.part_mm(setting)
    at = np.searchsorted(few.line, track.line, side="left").clip(1, len(few) - 1)  # here every line is one position
    start, end = few_part[at - 1], few_part[at]
    way = end - start
    share = np.einsum("kc,kc->k", whole_part - start, way) / np.maximum(np.einsum("kc,kc->k", way, way), 1e-12)
    gap = whole_part - start - share.clip(0, 1)[:, None] * way
    assert np.sqrt((gap**2).sum(axis=1))[track.line > 7].max() <= few.off_mm + 1e-9
    assert few.off_mm > 0


def test_a_short_program_is_not_thinned() -> None:
    track, setting = tracked("G0 X10 Y0 Z20\nG1 X60 F100")
    assert thinned(track, setting) is track


def test_the_cut_is_coloured_by_operations_of_the_toolpath() -> None:
    seen = looked()
    assert seen.cut is not None
    assert {0, 1, 2} == set(np.unique(seen.cut.last_cut).tolist())
    assert seen.operation_names == ("two flats", "letter")


def test_on_a_chain_the_tip_is_where_the_lines_take_it_each_tool_with_its_gauge_length() -> None:
    """Against planning's kinematics: words of C and A in the table, and of C below with B in the head, a tool of 100 and one of 60 mm."""
    for chain, gauges in ((C_ON_A, {}), (HEAD_AND_TABLE, {1: 100.0, 2: 60.0})):
        profile = machine(chain)
        stated = chain_of(profile)
        assert stated is not None
        centre = np.array([0.0, 0.0, -20.0])
        toolpath = part(FLATS, axis="Z", centre=centre.tolist())
        setting = setting_of(toolpath, profile, None, None, gauges or {1: 0.0, 2: 0.0})
        one, other = stated.letters
        text = f"G0 X5 Y-3 Z60 {one}0 {other}0\n{one}30 {other}-40\nG1 X9 {one}95 {other}50 F100\nT2 M6\nG43 H2\nG0 Z70\n{one}10"
        track = track_of(list(read_program(f"{BEGIN}{text}\nM30\n".encode(), profile)), setting)
        assert (len(track), 2) == track.word_deg.shape == track.rotary_deg_per_min.shape
        assert [track.tool[0], track.tool[-1]] == [1, 2]
        for tool in (1, 2):
            lines = lines_of(profile, stated, centre, gauges.get(tool, 0.0), 1.0)
            here = track.tool == tool
            alpha = np.radians(track.word_deg[here]) * [line.sign for line in lines]
            np.testing.assert_allclose(track.part_mm(setting)[here], tip_in_part(track.place_mm[here], alpha, lines), atol=1e-9)
        assert np.abs(np.diff(track.word_deg, axis=0)).sum(axis=1).max() <= 4.0 + 1e-9  # in chords, however many rotaries turn


def test_f_of_the_tip_with_a_head_is_timed_with_the_gauge_length_of_the_tool_in_the_spindle() -> None:
    profile = machine(HEAD_AND_TABLE, feed={"per_minute_counts": "tip"}, linear={axis: {"fastest": 90000} for axis in "XYZ"})
    setting = setting_of(part(FLATS, axis="Z", centre=[0, 0, -20]), profile, None, None, {1: 100.0, 2: 60.0})
    text = "G0 X5 Y-3 Z60 B0 C0\nG1 X9 B20 F100\nG53 G0 Z0\nT2 M6\nG43 H2\nG0 Z70\nG1 X5 B0 F100"
    track = track_of(list(read_program(f"{BEGIN}{text}\nM30\n".encode(), profile)), setting)
    feed = ~track.rapid & (track.line > 5)
    assert set(track.tool[feed].tolist()) == {1, 2}
    np.testing.assert_allclose(track.tip_mm_per_min[feed], 100, rtol=1e-3)
