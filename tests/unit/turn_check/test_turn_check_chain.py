"""Turn checks of machines with two rotaries or a head: one rotary turns and the others rest, and what is seen becomes facts and chain."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from steadyrest.columns import Floats
from steadyrest.errors import InputError, ProfileError, Refused
from steadyrest.profile import Profile, direction, load_profile, resolve
from steadyrest.reading import EventRead, MotionRead, read_program, sigma
from steadyrest.turn_check import mounting, planned_change, the_rotary, turn_check, watched
from steadyrest.turn_check.program import check_read_back
from steadyrest.turn_check.question import Stands, carried, chain_seen, question, ways

START = 'extends = "rs274ngc"\nspeaks = "Made for one test."\n'
C = 'rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise"}\n'
B = 'rotary.B = {along = "Y", seen_from = "+Y", positive_turns = "clockwise", pivot = [0, 0, 150]}\n'
LEANING = 'rotary.B = {along = "Z", seen_from = "+Z", positive_turns = "clockwise", leans = {towards = "-Y", by = 45}}\n'
MACHINES = {
    "two in the table": 'chain = "part C A bed spindle"\n' + C,
    "leaning table": 'chain = "part C B bed spindle"\ndrop = ["rotary.A"]\n' + C + LEANING,
    "head and table": 'chain = "part C bed B spindle"\ndrop = ["rotary.A"]\n' + C + B,
    "two in the head": 'chain = "part bed C B spindle"\ndrop = ["rotary.A"]\n' + C + B,
    "leaning head": 'chain = "part bed C B spindle"\ndrop = ["rotary.A"]\n' + C + LEANING,
    "one in the head": 'chain = "part bed A spindle"\n',
}
EVERY = [
    (name, letter)
    for name, text in MACHINES.items()
    for letter in next(line for line in text.splitlines() if line.startswith("chain")).split('"')[1].split()
    if letter in ("A", "B", "C")
]


@pytest.fixture(scope="module")
def machines(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("shop")
    for name, text in MACHINES.items():
        (folder / name.replace(" ", "-")).mkdir()
        (folder / name.replace(" ", "-") / "controller.toml").write_text(START + text, encoding="utf-8")
    return {name: folder / name.replace(" ", "-") for name in MACHINES}


@pytest.mark.parametrize(("name", "letter"), EVERY)
def test_one_turns_a_little_and_back_with_a_stop_before_each_and_the_others_rest_at_zero(
    name: str, letter: str, machines: dict[str, Path]
) -> None:
    check = turn_check(resolve(machines[name]), letter)
    profile = load_profile(machines[name])
    items = list(read_program(check.program, profile))
    runs = [item for item in items if isinstance(item, MotionRead)]
    chain = [each for each in profile.chain.split() if each in "ABC"]
    column = chain.index(letter)
    ends = np.concatenate([run.rotary_deg for run in runs])
    ends = ends[~np.isnan(ends[:, column])]
    assert ends[:, column].tolist() == [0, 15, 0]
    assert not np.delete(ends, column, axis=1).any()
    assert all(np.isnan(run.vertex_mm[:, :2]).all() for run in runs), "X and Y stay where they are"
    assert 3 == sum(isinstance(item, EventRead) and item.kind == "stop" for item in items)
    assert check.others == tuple(each for each in chain if each != letter)
    said = check.text(Path("turn.nc"), "mine")
    assert f"--rotary {letter} --seen {'|'.join(watched(profile, letter).seen)}" in said
    assert ("keep clear of it all round" in said) == (letter in profile.chain.split("bed")[1])


def test_both_clamps_are_off_before_the_first_turn_and_on_at_the_end(machines: dict[str, Path]) -> None:
    clamps = [f"rotary.{letter}.clamp.{key}={value}" for letter, on, off in (("A", "M10", "M11"), ("C", "M12", "M13"))
              for key, value in (("use", "indexing"), ("on", on), ("off", off))]  # fmt: skip
    lines = turn_check(resolve(machines["two in the table"], clamps), "A").program.decode().splitlines()
    assert {"M11", "M13"} == set(lines[lines.index("G0 A0 C0") - 2 : lines.index("G0 A0 C0")])
    assert {"M10", "M12"} == set(lines[-5:-3])


GOOD = "%\nG21 G90 G94 G17\nG53 G0 Z0\nM0\nG0 A0 C0\nM0\nG93 G1 A15 F8\nM0\nG93 G1 A0 F8\nG94\nM2\n%\n"


@pytest.mark.parametrize(
    ("old", "new", "wrong"),
    [
        ("A15 F8", "A15 C5 F8", "it turns C, which has to stay at 0"),
        ("A0 C0", "A0 C10", "it turns C, which has to stay at 0"),
        ("M0\nG93 G1 A15", "G93 G1 A15", "without waiting"),
        ("A15", "C15", "it turns C"),
    ],
)
def test_a_program_that_turns_the_other_one_too_is_found_in_reading_back(old: str, new: str, wrong: str, machines: dict[str, Path]) -> None:
    profile = load_profile(machines["two in the table"])
    check_read_back(GOOD.encode(), profile, "A", 0, 15)
    assert old in GOOD
    with pytest.raises(Refused, match=wrong):
        check_read_back(GOOD.replace(old, new, 1).encode(), profile, "A", 0, 15)


def seen_to_move(profile: Profile, letter: str, turn_deg: float, axis_point: Floats, height: float) -> str:
    """What somebody sees when what the rotary carries is turned by hand about its axis, right-hand positive; by SciPy alone."""
    rotary, stands = profile.rotary[letter], profile.spindle.stands  # type: ignore[index]
    turn = Rotation.from_rotvec(np.radians(turn_deg) * np.array(direction(rotary)))
    look = watched(profile, letter)
    what, answers = look.what, look.seen
    near, far, right, up = {
        "upright": ((0, -1, 0), (0, 1, 0), (1, 0, 0), (0, 0, 1)),
        "horizontal": ((0, 0, 1), (0, 0, -1), (1, 0, 0), (0, 1, 0)),
    }[stands]

    def moved(point: Floats) -> Floats:
        return np.asarray(turn.apply(point - axis_point) + axis_point - point)

    if what == "the nose of the spindle":
        gone = turn.apply([0.0, 0.0, -150.0]) - [0.0, 0.0, -150.0]
    elif "against the" in what:
        one, other = (right, (-1, 0, 0)) if "right-hand" in what else (near, far)
        lift = height * np.array(up)
        gone = moved(200 * np.array(one) + lift) - moved(200 * np.array(other) + lift)
    elif what == "the top of the head":
        gone = turn.apply([0.0, 100.0, 0.0]) - [0.0, 100.0, 0.0]
    else:
        gone = turn.apply(100.0 * np.array(near)) - 100.0 * np.array(near)
    named = {seen: np.array([float(way[0] + "1") * (way[1] == axis) for axis in "XYZ"]) for seen, way in ways(stands).items()}
    return max(answers, key=lambda each: float(gone @ named[each]))


@pytest.mark.parametrize("stands", ["upright", "horizontal"])
@pytest.mark.parametrize(("name", "letter"), EVERY)
@settings(max_examples=6)
@given(point=st.tuples(*[st.floats(-300, 300)] * 3), height=st.floats(-300, 300), positive=st.booleans(), end=st.booleans())
def test_the_facts_that_are_stored_turn_the_machine_as_it_was_seen_to_turn(
    name: str,
    letter: str,
    stands: Stands,
    point: tuple[float, float, float],
    height: float,
    positive: bool,
    end: bool,
    machines: dict[str, Path],
) -> None:
    """However high or low the axis lies, and from whichever end the turn is said."""
    profile = load_profile(machines[name], [f"spindle.stands={stands}"])
    turn_deg = 15.0 if positive else -15.0
    seen = seen_to_move(profile, letter, turn_deg, np.array(point), height)
    facts = mounting(profile, letter, seen, ("+" if end else "-") + profile.rotary[letter].along)  # type: ignore[index]
    assert sigma(facts.chuck_faces, facts.positive_turns_chuck) == (1 if positive else -1)


def test_by_hand_what_iso_841_means_by_positive_is_seen_so(machines: dict[str, Path]) -> None:
    """ISO 841 (rules 1 and 6, from memory): a positive letter moves the tool right-hand round the part. A table that carries the part then
    turns left-hand, so about X its near edge goes up; a head turns right-hand, so about Y its nose, which hangs below, goes to the left.
    """
    table, head = load_profile(machines["two in the table"]), load_profile(machines["two in the head"])
    assert (("down", "up"), ("to-the-left", "to-the-right")) == (watched(table, "A").seen, watched(head, "B").seen)
    assert "clockwise" == mounting(table, "A", "up").positive_turns_chuck  # seen from +X, left-hand is clockwise
    assert "counterclockwise" == mounting(head, "B", "to-the-left").positive_turns_chuck


def test_an_answer_that_the_axis_cannot_give_is_refused(machines: dict[str, Path]) -> None:
    head = load_profile(machines["two in the head"])
    with pytest.raises(InputError, match=r"when B turns about Y .* the nose of the spindle cannot go 'up'"):
        mounting(head, "B", "up")
    with pytest.raises(InputError, match=r"B, which is along Y, cannot face \+X"):
        mounting(head, "B", "to-the-left", "+X")
    with pytest.raises(ProfileError, match="has no rotary A; it has C along Z, B along Y"):
        the_rotary(head, "A")
    with pytest.raises(ProfileError, match="2 rotaries"):
        the_rotary(head, None)


def test_who_carries_whom_is_asked_of_the_outer_one_and_stored_as_the_chain(machines: dict[str, Path]) -> None:
    head, table = load_profile(machines["two in the head"]), load_profile(machines["two in the table"])
    assert ("B", "", "C", "") == (carried(head, "C"), carried(head, "B"), carried(table, "A"), carried(table, "C"))
    assert "Did the body of B go along when C turned?" in question(head, "C")
    assert "3." not in question(head, "B")
    assert ("part bed C B spindle", "part bed B C spindle") == (
        chain_seen(head, "C", went_along=True),
        chain_seen(head, "C", went_along=False),
    )
    with pytest.raises(InputError, match="B carries no other rotary"):
        chain_seen(head, "B", went_along=True)


def test_what_was_seen_of_one_of_two_is_stored_with_the_chain_and_its_source(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    tilting = 'rotary.B = {along = "Y", seen_from = "+Y", positive_turns = "clockwise"}\n'
    (folder / "controller.toml").write_text(START + 'chain = "part B A bed spindle"\n' + tilting, encoding="utf-8")
    facts = mounting(load_profile(folder), "A", "down")
    kept = planned_change(str(folder), "A", facts, seen="turn check", went_along=True)
    assert "turns the part right-hand about the + end of X" in kept.also
    assert "chain: part B A bed spindle, unchanged" in kept.words()
    other = planned_change(str(folder), "A", facts, seen="turn check", went_along=False)
    assert 'chain = "part A B bed spindle"  # turn check; B did not go along with A' in other.after
