"""Whatever stands together in a program: the text is the same whether items are written together or one by one, and so is a refusal."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.conventions import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, INVERSE, LINE, PER_MINUTE, RAPID, XY, XZ
from steadyrest.errors import SteadyrestError
from steadyrest.motion import Arcs, Event, HoleRow, Motion, Quantity
from steadyrest.profile import Profile, shared_templates_folder
from steadyrest.writing import program, write_program

NAN = float("nan")
place = st.sampled_from([0.0, 1.0, 2.5, NAN])
row = st.tuples(
    place, place, place, place, st.sampled_from([RAPID, LINE]), st.sampled_from([PER_MINUTE, INVERSE]), st.sampled_from([0.04, 5])
)
hole = st.tuples(st.sampled_from([0.0, 1.0, 2.5]), st.sampled_from([0.0, 1.0]))
arc = st.tuples(st.sampled_from([ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE]), st.sampled_from([XY, XZ]), st.sampled_from([1.0, 2.0]))
item = st.one_of(
    st.lists(row, min_size=1, max_size=4),
    st.lists(hole, min_size=1, max_size=3).map(lambda holes: ("cycle", holes)),
    arc.map(lambda one: ("arc", one)),
    st.sampled_from(["stop", "note", "home", "operation", "index", "end"]),
)


def profile(numbers: str, *, inverse: bool, repeat: bool) -> Profile:
    settings: dict[str, Any] = {
        "name": "trial",
        "speaks": "words for the tests of writing",
        "words": {"repeat_motion": repeat, "repeat_axes": "X" if repeat else ""},
        "feed": {"per_minute_code": "G94", "inverse_code": "G93"} if inverse else {},
        "rotary": {"A": {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise"}},
        "program": {"block_numbers": {"use": numbers}},
    }
    return Profile.model_validate(settings)


def made(said: Any, at: int) -> Motion | Event:
    if isinstance(said, list):
        table = np.array(said, dtype=np.float64)
        kind = table[:, 4].astype(np.uint8)
        feed = np.where(kind == RAPID, NAN, table[:, 6])
        columns = (
            kind,
            table[:, :3].copy(),
            table[:, 3:4].copy(),
            feed,
            np.arange(len(said)),
            np.zeros(len(said)),
            table[:, 5].astype(np.uint8),
        )
        return Motion(*columns, None, at, "cut")
    if said[0] == "arc":
        kind, plane, radius = said[1]
        xyz = np.array([[0.0, 0.0, 0.0], [2 * radius, 0.0, 0.0]])
        both = np.full(2, plane, np.uint8)
        kinds, feeds, modes = np.array([LINE, kind], np.uint8), np.full(2, 100.0), np.zeros(2, np.uint8)
        arcs = Arcs(np.array([[radius, 0.0, 0.0]] * 2), both)
        return Motion(kinds, xyz, np.full((2, 1), NAN), feeds, np.arange(2), np.zeros(2), modes, arcs, at, "cut")
    if said[0] == "cycle":
        words = {"r": Quantity("R", 2, "length"), "z": Quantity("Z", -1, "length"), "feed": Quantity("F", 0.04, "feed")}
        holes = HoleRow(np.array(said[1]), np.arange(len(said[1])))
        return Event("cycle", at, facts={"cycle": "drill"}, words=words, holes=holes)
    turn = Motion(*(np.array(one) for one in ([RAPID], [[NAN] * 3], [[90.0]], [NAN], [0], [0.0], [0])), None, at, "turn")
    return {
        "stop": Event("stop", at, facts={"optional": False}),
        "note": Event("note", at, facts={"text": f"über {at}"}),
        "home": Event("retract", at, facts={"form": "machine_zero"}, words={"machine_z": Quantity("Z", 0, "length")}),
        "operation": Event("operation_start", at, facts={"number": at, "name": "cut", "intent": "indexed"}),
        "index": Event("index", at, words={"angle": Quantity("", 90, "angle")}, motion=(turn,)),
        "end": Event("program_end"),
    }[said]


def outcome(items: list[Motion | Event], said: Profile, chunk: int) -> object:
    before, program.CHUNK = program.CHUNK, chunk
    try:
        writing = write_program(items, said, [shared_templates_folder()], inch=False, rotary_letters=["A"])
        return b"".join(writing), writing.lines, [str(notice) for notice in writing.notices]
    except SteadyrestError as error:
        return str(error)
    finally:
        program.CHUNK = before


@given(st.lists(item, min_size=1, max_size=12), st.sampled_from(["none", "every_block", "operations"]), st.booleans(), st.booleans())
def test_items_say_the_same_written_together_or_one_by_one(said: list[Any], numbers: str, inverse: bool, repeat: bool) -> None:
    items = [made(one, said[: at + 1].count("operation")) for at, one in enumerate(said)]
    settings = profile(numbers, inverse=inverse, repeat=repeat)
    together = outcome(items, settings, 8192)
    assert together == outcome(items, settings, 1)
    assert together == outcome(items, settings, 4)
