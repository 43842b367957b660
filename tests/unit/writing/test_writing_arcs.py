"""Arcs as words: still the same arcs when worked out from the rounded words alone, as a controller has to."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from writing_parts import NAN, in_steps, profile, rows, written

from steadyrest.conventions import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, LINE, XY, XZ, YZ
from steadyrest.errors import PlanError
from steadyrest.motion import Arcs, Event, HoleRow, Motion, Quantity, motion
from steadyrest.profile import Profile
from steadyrest.writing.arcs import arc_words
from steadyrest.writing.word_formats import word_format

AXES = {XY: "XY", XZ: "XZ", YZ: "YZ"}


def words(line: str) -> dict[str, float]:
    """The words of a block but G, by letter."""
    return {letter: float(number) for letter, number in re.findall(r"([A-FH-Z])([-+.\d]+)", line)}


def arc(
    start: tuple[float, float, float], end: tuple[float, float, float], centre: tuple[float, float, float], motion: int, plane: int = XY
) -> Motion:
    """A line to the start and an arc to the end."""
    return rows([(*start, 0), (*end, 0)], [LINE, motion], centre=[(0, 0, 0), centre], plane=plane)


def said(run: Motion, controller: Profile | None = None, *, inch: bool = False) -> str:
    return written([run], controller or profile(), inch=inch)[-1]


def test_the_sample_arc_of_the_published_language() -> None:
    # NISTIR 6556 section 3.5.3.2: at (7,7), G17 G2 X10 Y16 I3 J4; centre (10,11), radius 5. F and the plane are ours.
    assert "G17 G2 X10 Y16 I3 J4" == said(arc((7, 7, 0), (10, 16, 0), (10, 11, 0), ARC_CLOCKWISE))


@pytest.mark.parametrize(
    ("plane", "start", "end", "block"),
    [
        (XY, (10, 0, 0), (0, 10, 0), "G17 G3 X0 Y10 I-10 J0"),
        (XZ, (10, 0, 0), (0, 0, 10), "G18 G2 X0 Z10 I-10 K0"),
        (YZ, (0, 10, 0), (0, 0, 10), "G19 G3 Y0 Z10 J-10 K0"),
    ],
)
def test_each_plane_has_its_centre_letters_and_states_both_ends(
    plane: int, start: tuple[float, float, float], end: tuple[float, float, float], block: str
) -> None:
    # NISTIR 6556 section 3.5.3: XZ turns from Z to X, so the way from X to Z is clockwise there (table of standards: 1.5, 1.12).
    motion = ARC_CLOCKWISE if "G2" in block else ARC_COUNTERCLOCKWISE
    assert block == said(arc(start, end, (0, 0, 0), motion, plane))


def test_the_plane_is_said_only_where_it_changes() -> None:
    run = rows([(10, 0, 0, 0), (0, 10, 0, 0), (-10, 0, 0, 0)], [LINE, ARC_COUNTERCLOCKWISE, ARC_COUNTERCLOCKWISE], centre=[(0, 0, 0)] * 3)
    assert ["G17 G3 X0 Y10 I-10 J0", "X-10 Y0 I0 J-10"] == written([run], profile())[1:]


def test_centres_can_be_positions() -> None:
    controller = profile(arcs={"centre_is": "absolute"})
    assert "G17 G2 X10 Y16 I10 J11" == said(arc((7, 7, 0), (10, 16, 0), (10, 11, 0), ARC_CLOCKWISE), controller)


def test_the_radii_at_both_ends_agree_within_half_of_what_the_standard_allows() -> None:
    # NISTIR 6556 section 3.5.3.2 allows 0.002 mm; the other half is left to the controller's own arithmetic.
    lot = np.random.default_rng(7)
    for _ in range(300):
        centre, radius, begin, sweep = lot.uniform(-50, 50, 2), lot.uniform(1, 40), lot.uniform(0, 6.2), lot.uniform(0.2, 6)
        (x, y), (to_x, to_y) = (centre + radius * np.array([math.cos(angle), math.sin(angle)]) for angle in (begin, begin + sweep))
        run = arc((x, y, 0), (to_x, to_y, 0), (*centre, 0), ARC_COUNTERCLOCKWISE)
        first, last = (words(line) for line in written([run], profile())[-2:])
        spoke = math.hypot(last["I"], last["J"])
        other = math.hypot(last["X"] - first["X"] - last["I"], last["Y"] - first["Y"] - last["J"])
        assert abs(spoke - other) <= 0.001 + 1e-9


def test_a_whole_circle_states_its_end_and_is_kept_although_nothing_changes() -> None:
    # NISTIR 6556 section 3.5.3: end equal to start is a full circle; at least one end word of the plane is needed.
    assert "G17 G2 X10 Y0 I-10 J0" == said(arc((10, 0, 0), (10, 0, 0), (0, 0, 0), ARC_CLOCKWISE))


def test_a_whole_circle_whose_ends_round_apart_is_still_a_whole_circle() -> None:
    run = arc((10.0005 - 1e-9, 0, 0), (10.0005 + 1e-9, 0, 0), (0, 0, 0), ARC_CLOCKWISE)
    first, last = (words(line) for line in written([run], profile()))
    assert (first["X"], first["Y"]) == (last["X"], last["Y"])
    assert last["I"] == pytest.approx(-10, abs=0.0011)


def test_an_arc_shorter_than_the_rounding_never_becomes_a_circle() -> None:
    # Half a thousandth along a circle of 10 mm: start and end fall on one count.
    start, end = (10.0, 0.0001, 0.0), (10.0, 0.0004, 0.0)
    lines = written([arc(start, end, (0, 0, 0), ARC_COUNTERCLOCKWISE)], profile())
    assert 1 == len(lines)


@pytest.mark.parametrize("nearly_whole", [False, True])
def test_rounding_never_makes_a_circle_of_an_arc_or_an_arc_of_a_circle(nearly_whole: bool) -> None:
    # Radii of one to a hundred counts: there the rounded centre can turn a rounded chord round.
    generator = np.random.default_rng(5)
    n = 20_000
    radius = np.exp(generator.uniform(math.log(0.001), math.log(0.1), n))
    # Half of them close to the axes, where a rounded chord can point at the centre.
    angle = np.where(
        np.arange(n) % 2, generator.uniform(0, 2 * math.pi, n), generator.integers(0, 4, n) * math.pi / 2 + generator.normal(0, 0.05, n)
    )
    chord = np.minimum(generator.uniform(1e-5, 0.0015, n), 1.5 * radius)
    sweep = 2 * math.pi - chord / radius if nearly_whole else chord / radius
    start, end, centre = np.zeros((n, 3)), np.zeros((n, 3)), np.zeros((n, 3))
    centre[:, :2] = generator.uniform(0, 0.001, (n, 2))
    for place, turned in ((start, angle), (end, angle + sweep)):
        place[:, 0], place[:, 1] = centre[:, 0] + radius * np.cos(turned), centre[:, 1] + radius * np.sin(turned)
    first, last = np.rint(start * 1000).astype(np.int64), np.rint(end * 1000).astype(np.int64)
    asked = replace(motion(ARC_COUNTERCLOCKWISE, end, np.zeros((n, 1)), move=np.arange(n)), arcs=Arcs(centre, np.zeros(n, np.uint8)))
    controller = word_format(profile(), inch=False, rotary_letters=["A"])
    chosen = arc_words(asked, start, end, first, last, controller)
    large_straight = 0
    turned_round = {"straight": 0, "closed": 0}
    for k in range(n):
        apart = bool((first[k, :2] != last[k, :2]).any())
        if chosen.straight[k]:
            turned_round["straight"] += apart
            assert radius[k] < 0.003 or not nearly_whole
            large_straight += bool(apart and radius[k] > 0.004)
        elif chosen.closed[k]:
            turned_round["closed"] += apart
            assert nearly_whole
        else:
            begun = {"X": first[k, 0] / 1000, "Y": first[k, 1] / 1000}
            block = {"X": last[k, 0] / 1000, "Y": last[k, 1] / 1000, "I": chosen.centre[k, 0] / 1000, "J": chosen.centre[k, 1] / 1000}
            said_sweep = worked_out(begun, block, XY, 1)[0]
            assert abs(said_sweep - sweep[k]) < math.pi
            assert 1e-6 < said_sweep < 2 * math.pi - 1e-6, "start and end in one direction: none of a turn, or a whole one?"
    assert turned_round["closed" if nearly_whole else "straight"] > 5
    assert nearly_whole or large_straight > 5


def worked_out(start: dict[str, float], block: dict[str, float], plane: int, turning: int) -> tuple[float, float, float]:
    """Sweep in radians, start radius and end radius, from the words alone. turning: +1 from the first to the second axis."""
    a, b = AXES[plane]
    i, j = {"XY": "IJ", "XZ": "IK", "YZ": "JK"}[AXES[plane]]
    centre = (start[a] + block[i], start[b] + block[j])
    from_angle = math.atan2(start[b] - centre[1], start[a] - centre[0])
    to_angle = math.atan2(block[b] - centre[1], block[a] - centre[0])
    sweep = (turning * (to_angle - from_angle)) % (2 * math.pi)
    return sweep, math.hypot(start[a] - centre[0], start[b] - centre[1]), math.hypot(block[a] - centre[0], block[b] - centre[1])


@pytest.mark.parametrize("inch", [False, True])
def test_start_and_end_radius_agree_within_the_published_tolerance_after_rounding(inch: bool) -> None:
    # NISTIR 6556 section 3.5.3.2: at most 0.002 mm or 0.0002 inch.
    tolerance = 0.0002 if inch else 0.002
    generator = np.random.default_rng(7)
    n = 3000
    centre = generator.uniform(-50, 50, (n, 2)) / (25.4 if inch else 1)
    radius = np.exp(generator.uniform(math.log(0.05), math.log(500), n)) / (25.4 if inch else 1)
    first = generator.uniform(0, 2 * math.pi, n)
    sweep = generator.uniform(0.2, 2 * math.pi - 0.2, n)
    runs = []
    for k in range(n):
        spots = [
            (centre[k, 0] + radius[k] * math.cos(t), centre[k, 1] + radius[k] * math.sin(t), 0.0) for t in (first[k], first[k] + sweep[k])
        ]
        runs.append(arc(spots[0], spots[1], (centre[k, 0], centre[k, 1], 0.0), ARC_COUNTERCLOCKWISE))
    lines = written(runs, profile(words={"repeat_axes": "XY", "repeat_motion": True}), inch=inch)
    assert 2 * n == len(lines)
    for k in range(n):
        turned, start_radius, end_radius = worked_out(words(lines[2 * k]), words(lines[2 * k + 1]), XY, 1)
        assert abs(start_radius - end_radius) <= tolerance + 1e-9
        assert abs(start_radius - radius[k]) < 4 * (0.0001 if inch else 0.001)
        assert abs(turned - sweep[k]) * radius[k] < 6 * (0.0001 if inch else 0.001)


def test_numbers_too_coarse_for_an_arc_are_refused() -> None:
    # Written as (7,0) to (3,7): no whole centre is equally far from both, since 49 and 58 differ by an odd number.
    coarse = profile(numbers={"length": {"decimals": 0}})
    with pytest.raises(PlanError, match="rounding makes its start and end radius differ"):
        said(arc((7.3, 0, 0), (2.6, 6.821, 0), (0, 0, 0), ARC_COUNTERCLOCKWISE), coarse)


@pytest.mark.parametrize(("sweep_deg", "sign"), [(60, 1), (150, 1), (210, -1), (300, -1)])
def test_the_radius_form_is_negative_above_half_a_turn(sweep_deg: float, sign: int) -> None:
    # NISTIR 6556 section 3.5.3.1: R positive up to 180 degrees, negative above.
    end = (20 * math.cos(math.radians(sweep_deg)), 20 * math.sin(math.radians(sweep_deg)), 0.0)
    controller = profile(arcs={"form": "radius", "full_circles": False, "largest_sweep": 330})
    block = words(said(arc((20, 0, 0), end, (0, 0, 0), ARC_COUNTERCLOCKWISE), controller))
    assert sign * 20 == pytest.approx(block["R"], abs=0.0011)
    assert not {"I", "J", "K"} & block.keys()
    assert math.hypot(20 - block["X"], block["Y"]) / 2 <= abs(block["R"])


def test_a_radius_is_never_less_than_half_the_chord_and_no_count_more_than_that() -> None:
    controller = profile(arcs={"form": "radius", "full_circles": False, "largest_sweep": 180})
    assert 10 == words(said(arc((10, 0, 0), (-10, 0, 0), (0, 0, 0), ARC_COUNTERCLOCKWISE), controller))["R"]


def test_a_radius_form_close_to_half_a_turn_is_refused_where_rounding_spoils_it() -> None:
    end = (20.0004 * math.cos(math.radians(179.5)), 20.0004 * math.sin(math.radians(179.5)), 0.0)
    controller = profile(arcs={"form": "radius", "full_circles": False, "largest_sweep": 180})
    with pytest.raises(PlanError, match="cannot be given by radius"):
        said(arc((20.0004, 0, 0), end, (0, 0, 0), ARC_COUNTERCLOCKWISE), controller)


def test_a_whole_circle_has_no_radius_form() -> None:
    controller = profile(arcs={"form": "radius", "full_circles": False})
    with pytest.raises(PlanError, match="a full circle cannot be written with arcs given by radius"):
        said(arc((20, 0, 0), (20, 0, 0), (0, 0, 0), ARC_CLOCKWISE), controller)


def test_a_helix_says_its_third_axis() -> None:
    assert "G17 G2 X10 Y0 Z-2 I-10 J0" == said(arc((10, 0, 0), (10, 0, -2), (0, 0, 0), ARC_CLOCKWISE))


def test_an_arc_need_not_command_the_axis_across_its_plane() -> None:
    run = rows([(10, 0, NAN, 0), (0, 10, NAN, 0)], [LINE, ARC_COUNTERCLOCKWISE], centre=[(0, 0, 0)] * 2)
    assert "G17 G3 X0 Y10 I-10 J0" == said(run)


def test_an_arc_in_a_run_that_never_commands_an_axis_of_its_plane_is_refused_even_where_that_axis_is_known() -> None:
    turn = rows([(NAN, 0, 0, 0)], ARC_CLOCKWISE, centre=[(5, 0, 0)])
    with pytest.raises(PlanError, match="an arc does not state its end in X"):
        written([turn], in_steps())


def test_an_arc_from_an_unknown_place_is_refused() -> None:
    run = rows([(10, 0, 0, 0)], ARC_CLOCKWISE, centre=[(0, 0, 0)])
    with pytest.raises(PlanError, match="an unknown position"):
        written([run], profile())


def test_an_arc_code_the_controller_lacks_is_refused() -> None:
    with pytest.raises(PlanError, match="no code for the plane YZ"):
        said(arc((0, 10, 0), (0, 0, 10), (0, 0, 0), ARC_CLOCKWISE, YZ), profile(codes={"plane_yz": ""}, arcs={"planes": ["XY", "XZ"]}))


@pytest.mark.parametrize(
    "event",
    [
        Event("retract", 1, facts={"form": "machine_zero"}, words={"machine_z": Quantity("Z", 0, "length")}),
        Event(
            "cycle",
            1,
            facts={"cycle": "drill"},
            words={"r": Quantity("R", 2, "length"), "z": Quantity("Z", 0, "length"), "feed": Quantity("F", 150, "feed")},
            holes=HoleRow(np.zeros((1, 2)), np.ones(1, np.int64)),
        ),
    ],
    ids=lambda event: event.name,
)
def test_an_arc_that_needs_z_right_after_z_got_lost_is_refused(event: Event) -> None:
    lead, turn = rows([(10, 0, 0, 0)]), rows([(0, 0, 10, 0)], ARC_CLOCKWISE, centre=[(0, 0, 0)], plane=XZ)
    assert "G18 G2" in written([lead, turn], profile())[-1]
    with pytest.raises(PlanError, match="an unknown position"):
        written([lead, event, turn], profile())
