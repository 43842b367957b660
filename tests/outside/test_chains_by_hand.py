"""Machines of every kind, by what a person sees at them: from `seen_from` and `positive_turns` to commanded words, worked by hand.

Sources: ISO 841 names rotary motions right-hand about +X, +Y, +Z for a tool that moves round a part at rest; a table moves in the
opposite sense (from memory). Hand numbers of worked poses, and face normals of the icosahedron as public tables of polyhedra give them. The
hand work stands beside each case, so that it can be followed without the code.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest

from steadyrest.motion.chain import Line, Lines, linear_axes, lines_of, solutions, tool_axis
from steadyrest.posting import begin
from steadyrest.profile import Profile, chain_of, load_profile, resolve
from steadyrest.request import Request
from steadyrest.toolpath import parse_toolpath

GAUGE = 50.0
H = 0.5**0.5
S60 = 0.75**0.5
TABLE_C = {"along": "Z", "seen_from": "+Z", "positive_turns": "clockwise"}
TABLE_A = {"along": "X", "seen_from": "+X", "positive_turns": "clockwise"}
HEAD_B = {"along": "Y", "seen_from": "+Y", "positive_turns": "counterclockwise", "pivot": [0, 0, 100]}
HEAD_C = {"along": "Z", "seen_from": "+Z", "positive_turns": "counterclockwise"}
HEAD_A = {"along": "X", "seen_from": "+X", "positive_turns": "counterclockwise", "pivot": [0, 0, 100]}
LEANING_TABLE = {"along": "Z", "seen_from": "+Z", "positive_turns": "clockwise", "leans": {"towards": "+Y", "by": 45}}
LEANING_HEAD = {
    "along": "Z",
    "seen_from": "+Z",
    "positive_turns": "counterclockwise",
    "leans": {"towards": "-Y", "by": 45},
    "pivot": [0, 0, 100],
}

Pose = tuple[dict[str, float], tuple[float, float, float]]
MACHINES: dict[str, tuple[str, dict[str, dict[str, object]], list[Pose]]] = {
    # Seen from +X, a positive A turns the table clockwise: the side at -Y comes up. Seen from above, a positive C turns it clockwise as
    # well: what is at +X goes to -Y. So A90 cuts the side at -Y, and C90 A90 that at +X. A30 alone: the tool leans by 30 towards -Y.
    "C on A": (
        "part C A bed spindle",
        {"C": TABLE_C, "A": TABLE_A},
        [({"C": 0, "A": 90}, (0, -1, 0)), ({"C": 90, "A": 90}, (1, 0, 0)), ({"C": 0, "A": 30}, (0, -0.5, S60))],
    ),
    # The axis points up and towards +Y. Half a turn about it exchanges up and +Y, so that the side at +Y is cut; C90 has brought the side
    # at -X to +Y. A quarter turn, clockwise seen from its upper end, brings +X half up: t = 0.707 d + d x Z = (0.707, 1/2, 1/2).
    "C on a leaning B": (
        "part C B bed spindle",
        {"C": TABLE_C, "B": LEANING_TABLE},
        [({"C": 0, "B": 180}, (0, 1, 0)), ({"C": 90, "B": 180}, (-1, 0, 0)), ({"C": 0, "B": 90}, (H, 0.5, 0.5))],
    ),
    # Seen from +Y, X runs to the left and Z up. The spindle's back goes counterclockwise from up to the left, towards +X. With C90 the
    # part's +X lies at -Y and its +Y at +X: the tool leans towards +Y of the part.
    "C below, B in the head": (
        "part C bed B spindle",
        {"C": TABLE_C, "B": HEAD_B},
        [({"C": 0, "B": 30}, (0.5, 0, S60)), ({"C": 90, "B": 30}, (0, 0.5, S60))],
    ),
    # Seen from +X, Y runs to the right and Z up: counterclockwise the spindle's back leans towards -Y. C90 turns the whole head
    # counterclockwise, seen from above: -Y becomes +X.
    "C and A in the head": (
        "part bed C A spindle",
        {"C": HEAD_C, "A": HEAD_A},
        [({"C": 0, "A": 30}, (0, -0.5, S60)), ({"C": 90, "A": 30}, (0.5, 0, S60))],
    ),
    # The axis points up and towards -Y; half a turn lays the spindle along -Y. A quarter turn right-hand: t = 0.707 d + d x Z.
    "a head that leans": (
        "part bed C B spindle",
        {"C": HEAD_C, "B": LEANING_HEAD},
        [({"C": 0, "B": 180}, (0, -1, 0)), ({"C": 0, "B": 90}, (-H, -0.5, 0.5)), ({"C": 180, "B": 90}, (H, 0.5, 0.5))],
    ),
    "B in the head, alone": ("part bed B spindle", {"B": HEAD_B}, [({"B": 30}, (0.5, 0, S60)), ({"B": -90}, (-1, 0, 0))]),
    # Seen from +X, a positive A turns the part clockwise: its side at -Y comes up.
    "A below, alone": ("part A bed spindle", {"A": TABLE_A}, [({"A": 90}, (0, -1, 0)), ({"A": 30}, (0, -0.5, S60))]),
}


def controller(folder: Path, chain: str, rotaries: dict[str, dict[str, object]], more: str = "") -> Profile:
    """A profile's file as a shop writes it, loaded."""
    folder.mkdir(exist_ok=True)
    lines = ['extends = "rs274ngc"', 'speaks = "a machine of the tests"', f"chain = {json.dumps(chain)}", 'drop = ["rotary.A"]']
    for letter, rotary in rotaries.items():
        lines += [f"[rotary.{letter}]", *(f"{key} = {toml(value)}" for key, value in rotary.items())]
    (folder / "controller.toml").write_text("\n".join([*lines, more]) + "\n", encoding="utf-8")
    return load_profile(str(folder))


def toml(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml(each)}" for key, each in value.items()) + "}"
    return json.dumps(value)


def machine(folder: Path, chain: str, rotaries: dict[str, dict[str, object]], gauge: float = 0.0) -> Lines:
    profile = controller(folder / "by-hand", chain, rotaries)
    found = chain_of(profile)
    assert found is not None
    return lines_of(profile, found, np.zeros(3), gauge, 1.0)


def axis_at(words: dict[str, float], lines: Lines) -> np.ndarray:
    alpha = np.radians([[word * line.sign for word, line in zip(words.values(), lines, strict=True)]])
    return tool_axis(alpha, lines)[0]


def seen_from_behind(rotary: dict[str, object]) -> dict[str, object]:
    """The same rotary, told by somebody who stands at its other end."""
    end, sense = str(rotary["seen_from"]), rotary["positive_turns"]
    behind = {"+": "-", "-": "+"}[end[0]] + end[1]
    return {**rotary, "seen_from": behind, "positive_turns": "clockwise" if sense == "counterclockwise" else "counterclockwise"}


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("behind", [False, True])
def test_words_lay_the_tool_where_a_person_at_the_machine_sees_it(name: str, behind: bool, tmp_path: Path) -> None:
    chain, rotaries, poses = MACHINES[name]
    told = {letter: seen_from_behind(rotary) if behind else rotary for letter, rotary in rotaries.items()}
    lines = machine(tmp_path, chain, told)
    for words, axis in poses:
        np.testing.assert_allclose(axis_at(words, lines), axis, atol=1e-12, err_msg=str(words))


@pytest.mark.parametrize("name", MACHINES)
def test_the_words_worked_by_hand_are_one_of_the_solutions(name: str, tmp_path: Path) -> None:
    chain, rotaries, poses = MACHINES[name]
    lines = machine(tmp_path, chain, rotaries)
    for words, axis in poses:
        found = solutions(np.array([axis]), lines)
        said = np.degrees(found.alpha_rad[:, 0]) * [line.sign for line in lines]
        off = np.abs((said - list(words.values()) + 180) % 360 - 180).max(axis=1)
        assert off.min() < 1e-6, (words, said)
        assert found.miss_rad[0] < 1e-9


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("which", [0, 1])
def test_a_sense_told_wrong_is_another_word(name: str, which: int, tmp_path: Path) -> None:
    """The word that lays the tool there is then the negative one: nothing else about the machine changes."""
    chain, rotaries, poses = MACHINES[name]
    letter = list(rotaries)[min(which, len(rotaries) - 1)]
    other = "clockwise" if rotaries[letter]["positive_turns"] == "counterclockwise" else "counterclockwise"
    lines = machine(tmp_path, chain, rotaries | {letter: {**rotaries[letter], "positive_turns": other}})
    for words, axis in poses:
        np.testing.assert_allclose(axis_at(words | {letter: -words[letter]}, lines), axis, atol=1e-12)


T = np.array([[1.0, 2.0, 3.0]]) / 14**0.5
P = np.array([[30.0, 10.0, 25.0]])
UP_TO_THE_PIVOT = {
    # p turned about Z by -63.434949: (22.360680, -22.360680, 25); the spindle's back leans towards +X by 36.699225, 150 from the pivot
    "C below, B in the head": ((-63.434949, 36.699225), (22.360680 + 150 * 0.597614, -22.360680, 25 + 150 * (0.801784 - 1))),
    # the pivot stands 150 along t from p, wherever that is, and the head at zero 150 above the tip
    "C and B in the head": ((63.434949, 36.699225), (70.089186, 90.178373, -4.732441)),
}


def test_poses_with_a_head_worked_by_hand(tmp_path: Path) -> None:
    """X 112.002825 Z -4.732441 with B in the head over a C table, 70.089186 90.178373 -4.732441 with both in the head: 150 to the pivot."""
    over = machine(tmp_path, "part C bed B spindle", {"C": {**TABLE_C, "positive_turns": "counterclockwise"}, "B": HEAD_B}, 50.0)
    both = machine(tmp_path, "part bed C B spindle", {"C": HEAD_C, "B": HEAD_B}, 50.0)
    for lines, (words, place) in zip((over, both), UP_TO_THE_PIVOT.values(), strict=True):
        alpha = solutions(T, lines).alpha_rad
        said = np.degrees(alpha[:, 0]) * [line.sign for line in lines]
        best = int(np.argmin(np.abs((said - words + 180) % 360 - 180).max(axis=1)))
        np.testing.assert_allclose((said[best] - words + 180) % 360 - 180, 0, atol=1e-6)
        np.testing.assert_allclose(linear_axes(P, alpha[best], lines), [place], atol=2e-4)
    np.testing.assert_allclose(UP_TO_THE_PIVOT["C below, B in the head"][1], (112.002825, -22.360680, -4.732441), atol=2e-4)


def test_a_third_of_a_turn_about_the_space_diagonal_takes_z_to_x() -> None:
    """x, y and z change places in a ring: the published permutation of axes."""
    diagonal = Line(np.ones(3) / 3**0.5, np.zeros(3), 1, carries_part=False)
    third = np.array([[2 * np.pi / 3]])
    np.testing.assert_allclose(tool_axis(third, (diagonal,)), [[1, 0, 0]], atol=1e-12)
    np.testing.assert_allclose(tool_axis(-third, (diagonal,)), [[0, 1, 0]], atol=1e-12)


ICOSAHEDRON = [(0.49112347, 0.35682208, 0.79465447), (0.98224695, 0.0, -0.18759247), (-0.18759247, -0.57735027, 0.79465447)]
"""Face normals of an icosahedron that stands on a vertex, from public tables of polyhedra. The faces come in fives round the axis; that
opposite of each is one as well."""


def faces() -> np.ndarray:
    """All twenty: each kind of face five times round Z, and their opposites."""
    fifth = np.radians(72 * np.arange(5))
    cos, sin = np.cos(fifth), np.sin(fifth)
    half = [np.column_stack([x * cos - y * sin, x * sin + y * cos, np.full(5, z)]) for x, y, z in ICOSAHEDRON[:2]]
    return np.vstack([*half, *(-each for each in half)])


def test_all_faces_of_an_icosahedron_are_reached_at_the_published_tilts(tmp_path: Path) -> None:
    """Tilts 37.377368, 79.187683, 100.812317 and 142.622632; each face has three neighbours, 41.81031489578 degrees away."""
    lines = machine(tmp_path, "part C A bed spindle", {"C": TABLE_C, "A": TABLE_A})
    found = solutions(faces(), lines)
    tilts = np.abs(np.degrees(found.alpha_rad[0, :, 1]))
    np.testing.assert_allclose(np.sort(tilts), np.repeat([37.377368, 79.187683, 100.812317, 142.622632], 5), atol=2e-6)
    axes = tool_axis(found.alpha_rad[0], lines)
    np.testing.assert_allclose(axes, faces(), atol=2e-8)
    apart = np.degrees(np.arccos(np.clip(axes @ axes.T, -1, 1)))
    neighbours = np.abs(apart - 41.81031489578) < 1e-5
    np.testing.assert_array_equal(neighbours.sum(axis=1), 3)
    assert apart[~neighbours & ~np.eye(20, dtype=bool)].min() > 60
    assert np.linalg.norm(axes - ICOSAHEDRON[2], axis=1).min() < 2e-8  # the third that is printed is one of them


def words_of(profile_folder: Path, planes: list[dict[str, list[float]]]) -> list[dict[str, float]]:
    """What a posted program says of every axis where it begins to cut in each plane."""
    part = {
        "steadyrest_toolpath": 1, "units": "mm", "axis": "X", "stock": {"shape": "round", "diameter": 20, "from": -20, "to": 20},
        "tools": [{"number": 1, "shape": "flat", "diameter": 6}],
        "operations": [{
            "tool": 1, "spindle": {"rpm": 3000, "turns": "clockwise"}, "rotary": {"intent": "indexed", "planes": planes},
            "moves": [{"rapid": [0, 0, 40]}, {"cut": [0, 0, 0], "feed": 100}, {"rapid": [0, 0, 40]}],
        }],
    }  # fmt: skip
    toolpath = parse_toolpath(part)
    program = begin(toolpath, resolve(str(profile_folder)), Request(toolpath, gauge_lengths={1: GAUGE}))
    lines = b"".join(program).decode("ascii").splitlines()
    stands: dict[str, float] = {}
    found = []
    for line in lines:
        said = {letter: float(number) for letter, number in re.findall(r"([XYZABCF])(-?[0-9.]+)", re.sub(r"\(.*?\)", "", line))}
        stands |= said
        if said.get("F") == 100:  # down to where it cuts; out of there a head draws the tool back at a feed of its own
            found.append(dict(stands))
    return found


@pytest.mark.parametrize("name", MACHINES)
def test_a_posted_program_says_the_words_worked_by_hand(name: str, tmp_path: Path) -> None:
    """The last of two is kept on its positive side, where the hand's words are: the other solution lays the tool there as well."""
    chain, rotaries, poses = MACHINES[name]
    last = list(rotaries)[-1]
    kept = {"prefer": "positive"} if len(rotaries) == 2 else {}
    controller(tmp_path / "by-hand", chain, rotaries | {last: {**rotaries[last], **kept}})
    for words, axis in poses:
        (found,) = words_of(tmp_path / "by-hand", [{"origin": [0, 0, 0], "z": list(axis)}])
        for letter, word in words.items():
            assert abs((found[letter] - word + 180) % 360 - 180) < 2e-4, (words, found)


@pytest.mark.parametrize("name", ["C below, B in the head", "C and B in the head"])
def test_a_posted_program_for_a_head_says_the_places_worked_by_hand(name: str, tmp_path: Path) -> None:
    """The pivot is 100 over the gauge point, and the tool 50 long: 150 in all."""
    (c_deg, b_deg), place = UP_TO_THE_PIVOT[name]
    both = name == "C and B in the head"
    chain = "part bed C B spindle" if both else "part C bed B spindle"
    turning = {"C": HEAD_C if both else {**TABLE_C, "positive_turns": "counterclockwise"}, "B": {**HEAD_B, "prefer": "positive"}}
    controller(tmp_path / "by-hand", chain, turning)
    (found,) = words_of(tmp_path / "by-hand", [{"origin": P[0].tolist(), "z": T[0].tolist()}])
    assert pytest.approx([b_deg, *place], abs=3e-4) == [found[letter] for letter in "BXYZ"]
    assert pytest.approx(c_deg % 360, abs=2e-4) == found["C"] % 360


def test_a_posted_program_says_the_places_worked_by_hand(tmp_path: Path) -> None:
    """C on A, t = (1, 2, 3) / sqrt 14 at (30, 10, 25): A 36.699225, C 153.434949, X -22.360680 Y -2.988072 Z 33.407655."""
    controller(tmp_path / "by-hand", "part C A bed spindle", {"C": TABLE_C, "A": {**TABLE_A, "prefer": "positive"}})
    (found,) = words_of(tmp_path / "by-hand", [{"origin": P[0].tolist(), "z": T[0].tolist()}])
    wanted = {"A": 36.699225, "X": -22.360680, "Y": -2.988072, "Z": 33.407655}
    assert pytest.approx(wanted, abs=2e-4) == {letter: found[letter] for letter in wanted}
    assert pytest.approx(153.434949, abs=2e-4) == found["C"] % 360


def test_all_faces_of_an_icosahedron_are_posted_at_the_published_tilts(tmp_path: Path) -> None:
    controller(tmp_path / "by-hand", "part C A bed spindle", {"C": TABLE_C, "A": {**TABLE_A, "prefer": "positive"}})
    found = words_of(tmp_path / "by-hand", [{"origin": (8 * face).tolist(), "z": face.tolist()} for face in faces()])
    tilts = np.repeat([37.377368, 100.812317, 142.622632, 79.187683], 5)
    np.testing.assert_allclose([each["A"] for each in found], tilts, atol=2e-4)
    # each place is 8 over the middle, along the tool: X and Y stay, Z is 8
    np.testing.assert_allclose([[each["X"], each["Y"], each["Z"]] for each in found], [[0, 0, 8]] * 20, atol=2e-4)
