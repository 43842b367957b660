"""The line of a rotary from a ball: known machines are found again, by hand and at random, and what does not agree is told."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from centre_parts import centre
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from steadyrest.centre import BallTouches, find_line, line_setting, line_text
from steadyrest.columns import Floats
from steadyrest.errors import InputError
from steadyrest.motion.chain import about_line, linear_axes, lines_of
from steadyrest.profile import Profile, chain_of, load_profile

START = 'extends = "rs274ngc"\nspeaks = "Made for one test."\n'
C = 'rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise"}\n'
TABLE = START + 'chain = "part C A bed spindle"\n' + C + "rotary.A.point = [0, 0.12, 48]\n"
HEAD = START + (
    'chain = "part bed C B spindle"\ndrop = ["rotary.A"]\n' + C + 'rotary.B = {along = "Z", leans = {towards = "-Y", by = 45}, '
    'seen_from = "-Z", positive_turns = "clockwise", pivot = [0.02, 0, 145]}\n'
)
GAUGE = 128.35


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("table")
    (folder / "controller.toml").write_text(TABLE, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def head(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("head")
    (folder / "controller.toml").write_text(HEAD, encoding="utf-8")
    return folder


def found_at(profile: Profile, letter: str, ball: Floats, angles_deg: list[float], reference: Floats) -> tuple[tuple[float, ...], ...]:
    """Where the axes find a ball, which stands at `ball` with all at zero: by the kinematics of planning, which centre does not use."""
    chain = chain_of(profile)
    assert chain is not None
    lines, at = lines_of(profile, chain, reference, GAUGE, 1.0), chain.letters.index(letter)
    alpha = np.zeros((len(angles_deg), len(lines)))
    alpha[:, at] = np.radians(angles_deg) * lines[at].sign
    if lines[at].carries_part:  # alpha turns the tool relative to the part: the part goes the other way
        places = about_line(np.tile(ball, (len(angles_deg), 1)), lines[at], -alpha[:, at])
    else:
        places = linear_axes(np.tile(ball, (len(angles_deg), 1)), alpha, lines)
    return tuple((angle, *map(float, place)) for angle, place in zip(angles_deg, places, strict=True))


def test_by_hand_a_ball_carried_round_a_line_along_x(table: Path) -> None:
    """The line at Y 10, Z 50; the ball 30 beside it. Seen from +X, A+ goes clockwise: Y goes to -Z."""
    profile = load_profile(table)
    balls = ((0.0, 5.0, 40.0, 50.0), (90.0, 5.0, 10.0, 20.0), (-90.0, 5.0, 10.0, 80.0))
    found = find_line(profile, "A", BallTouches(balls, reference=(0.0, 9.5, 2.0)))
    assert found.place == pytest.approx((0, 0.5, 48), abs=1e-9)
    assert ("point", ()) == (found.key, found.repeat)
    assert found.uncertainty[0] == 0, "any X is a point of it"
    assert line_setting(found, "mm") == ("rotary.A.point", [0.0, 0.5, 48.0])
    assert line_setting(found, "inch")[1][2] == pytest.approx(1219.2)


angles = st.lists(st.integers(-18, 18).map(lambda step: step * 5.0), min_size=3, max_size=8, unique=True).filter(
    lambda all_: max(all_) - min(all_) >= 60
)
length = st.floats(-200, 200)


@settings(max_examples=25)
@given(ball=st.tuples(length, length, length), angles_deg=angles, reference=st.tuples(length, length, length))
@pytest.mark.parametrize("letter", ["A", "C"])
def test_a_known_line_of_a_table_is_found_again(
    letter: str, ball: tuple[float, ...], angles_deg: list[float], reference: tuple[float, float, float], table: Path
) -> None:
    profile = load_profile(table)
    touched = found_at(profile, letter, np.array(ball), angles_deg, np.array(reference))
    found = find_line(profile, letter, BallTouches(touched, reference=reference))  # type: ignore[arg-type]
    assert found.place == pytest.approx((0, 0.12, 48) if letter == "A" else (0, 0, 0), abs=1e-9)
    assert found.repeat == ()
    assert found.lean_deg is None or max(map(abs, found.lean_deg[0])) < 1e-6


@settings(max_examples=25)
@given(ball=st.tuples(length, length, length), angles_deg=angles)
def test_a_known_pivot_of_a_head_whose_axis_leans_is_found_again(ball: tuple[float, ...], angles_deg: list[float], head: Path) -> None:
    profile = load_profile(head)
    touched = found_at(profile, "B", np.array(ball), angles_deg, np.zeros(3))
    found = find_line(profile, "B", BallTouches(touched, gauge_length=GAUGE))  # type: ignore[arg-type]
    assert "pivot" == found.key
    assert found.place == pytest.approx((0.02, 0, 145), abs=1e-8)
    assert found.lean_deg is None or max(map(abs, found.lean_deg[0])) < 1e-5


@settings(max_examples=20)
@given(angles_deg=angles, seed=st.integers(0, 10_000))
def test_what_is_found_lies_within_its_uncertainty_of_what_is(angles_deg: list[float], seed: int, table: Path) -> None:
    """Five times the standard uncertainty: one in a million lies beyond."""
    profile, random = load_profile(table), np.random.default_rng(seed)
    exact = np.array(found_at(profile, "A", np.array([10.0, 90.0, 60.0]), angles_deg, np.zeros(3)))
    rough = exact + np.column_stack([np.zeros(len(exact)), random.normal(0, 0.01, (len(exact), 3))])
    found = find_line(profile, "A", BallTouches(tuple(map(tuple, rough.tolist())), 0.01))
    off = np.abs(np.array(found.place) - [0, 0.12, 48])
    assert (off <= 5.5 * np.array(found.uncertainty) + 1e-12).all()


def test_a_line_that_leans_is_told_where_the_arc_is_wide(table: Path) -> None:
    profile = load_profile(table)
    lean = np.radians([0.0, 0.05, -0.02])
    axis = np.array([1.0, *lean[1:]])
    axis /= np.linalg.norm(axis)
    start = np.array([10.0, 90.0, 48.0])
    through = np.array([10.0, 0.12, 48.0])
    wide = [(float(w), *(Rotation.from_rotvec(np.radians(-w) * axis).apply(start - through) + through)) for w in (-90, -45, 0, 45, 90)]
    found = find_line(profile, "A", BallTouches(tuple(wide), 0.001))
    assert found.lean_deg is not None
    assert found.lean_deg[0] == pytest.approx((0, 0.05, -0.02), abs=1e-4)
    assert "it leans from its stated direction by Y +0.0500, Z -0.0200 degrees" in line_text(found, "mm")
    narrow = find_line(profile, "A", BallTouches(tuple(wide[1:4]), 0.001))
    assert narrow.lean_deg is None
    assert "an arc of 120 degrees" in line_text(narrow, "mm")


def test_a_positive_turn_that_is_stated_the_wrong_way_round_is_told(table: Path) -> None:
    touched = found_at(load_profile(table), "A", np.array([10.0, 90.0, 60.0]), [-60, 0, 30, 75], np.zeros(3))
    wrong = load_profile(table, ["rotary.A.positive_turns_chuck=counterclockwise"])
    found = find_line(wrong, "A", BallTouches(touched))  # type: ignore[arg-type]
    assert "run the turn check first" in found.repeat[0]


def test_the_one_place_that_does_not_fit_is_named(table: Path) -> None:
    touched = [list(one) for one in found_at(load_profile(table), "C", np.array([70.0, 20.0, 30.0]), [0, 72, 144, 216, 288], np.zeros(3))]
    touched[3][1] += 0.2
    found = find_line(load_profile(table), "C", BallTouches(tuple(map(tuple, touched))))  # type: ignore[arg-type]
    assert "the ball at 216 degrees does not fit" in found.repeat[0]
    assert line_text(found, "mm").startswith("THE PLACES DO NOT AGREE")


def test_a_pin_serves_where_the_line_is_along_z(table: Path) -> None:
    balls = tuple((w, x, y, np.nan) for w, x, y in ((0, 40.0, 7.0), (90, 10.0, -23.0), (180, -20.0, 7.0)))
    found = find_line(load_profile(table), "C", BallTouches(balls))
    assert found.place == pytest.approx((10, 7, 0))
    with pytest.raises(InputError, match="only of a rotary along Z its height is not needed"):
        find_line(load_profile(table), "A", BallTouches(balls))


def test_too_little_is_refused_with_the_cure(table: Path, head: Path) -> None:
    balls = ((0.0, 5.0, 40.0, 50.0), (1.0, 5.0, 40.0, 49.5), (2.0, 5.0, 40.0, 49.0))
    for some in (balls[:2], balls):
        with pytest.raises(InputError, match="too few angles, or too close together") as caught:
            find_line(load_profile(table), "A", BallTouches(some))
        assert caught.value.cure
    with pytest.raises(InputError, match="its pivot counts from the gauge point"):
        find_line(load_profile(head), "B", BallTouches(balls))


def test_the_command_prints_the_setting_and_stores_it_where_it_is_said(table: Path, tmp_path: Path) -> None:
    own = tmp_path / "mine"
    own.mkdir()
    (own / "controller.toml").write_text(TABLE, encoding="utf-8")
    touched = found_at(load_profile(table), "A", np.array([10.0, 90.0, 60.0]), [-60, 0, 60], np.array([0.0, 0.08, -2.0]))
    balls = [word for one in touched for word in ("--ball", *(f"{each:.6f}" for each in one))]
    done = centre("line", "--controller", str(own), "--rotary", "A", *balls, "--store", "--yes")
    assert "rotary.A.point = [0.0, 0.2, 46.0]" in done.stdout
    assert load_profile(own).rotary["A"].point == (0.0, 0.2, 46.0)
    assert "# ball at 3 angles, " in (own / "controller.toml").read_text(encoding="utf-8")
    assert 0 == done.exit_code


def test_the_command_prints_the_same_as_data(table: Path) -> None:
    """By hand: round X 0 Y 0.2 Z 46 from a reference at Y 0.08 Z -2 is [0, 0.12, 48] from there."""
    balls = ["--ball", "0", "5", "40.2", "46", "--ball", "90", "5", "0.2", "6", "--ball", "-90", "5", "0.2", "86"]
    done = centre("line", "--controller", str(table), "--rotary", "A", *balls, "--reference", "0", "0.08", "-2", "--json")
    told = json.loads(done.stdout)
    assert (0, True, "rotary.A.point", [0.0, 0.12, 48.0], 3) == (
        done.exit_code, told["agrees"], told["setting"], told["value_mm"], told["angles"],
    )  # fmt: skip
    assert {"X": 0.0, "Y": 0.12, "Z": 48.0} == pytest.approx({axis: one["value"] for axis, one in told["place"].items()})
    assert 0.0 == told["place"]["X"]["uncertainty"] < told["place"]["Y"]["uncertainty"] < 0.01
    off = json.loads(centre("line", "--controller", str(table), "--rotary", "A", *balls[:-1], "83", "--json").stdout)
    assert (False, None, None) == (off["agrees"], off["setting"], off["value_mm"])
    assert off["repeat"]


def test_the_command_stores_nothing_of_places_that_do_not_agree(table: Path) -> None:
    balls = ["--ball", "0", "5", "40", "50", "--ball", "90", "5", "10", "20", "--ball", "-90", "5", "10", "83"]
    done = centre("line", "--controller", str(table), "--rotary", "A", *balls, "--store", "--yes")
    assert 3 == done.exit_code
    assert "point" not in done.stdout
    one = centre("line", "--controller", "rs274ngc", "--rotary", "A", *balls[:-1], "80")
    assert "one rotary in the table" in one.output
