"""When is a job turned end for end, what is said of it, and what cannot be turned?"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from steadyrest.errors import PlanError, SteadyrestError, ToolpathError
from steadyrest.motion.end_for_end import check_start_position, end_for_end, held_at_the_other_end
from steadyrest.posting import begin, posted_text
from steadyrest.profile import load_profile, resolve
from steadyrest.proof import prove
from steadyrest.toolpath import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, PLANE_XZ, Holes, MoveColumns, Toolpath, parse_toolpath

RIGHT = "rotary.A.chuck_faces=-X"


def part(held: dict[str, Any] | None, **more: Any) -> Toolpath:
    moves = [
        {"rapid": [-10, 5, 40]},
        {"rapid": [-10, 5, 18]},
        {"cut": [-10, 5, 12], "feed": 300},
        {"arc": [-20, 5, 12], "centre": [-15, 5, 12], "turns": "counterclockwise", "plane": "XZ"},
        {"rapid": [-20, 5, 40]},
        {"hole": [-30, 4], "cycle": "drill", "retract": 25, "bottom": 10},
    ]
    operation = {
        "tool": 1,
        "spindle": {"rpm": 300, "turns": "clockwise"},
        "rotary": {"intent": "indexed", "angles": [30]},
        "moves": moves,
    }
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0, **({"held": held} if held is not None else {})}
    data = {"steadyrest_toolpath": 1, "units": "mm", "stock": stock, "tools": [{"number": 1, "shape": "flat", "diameter": 6}]}
    return parse_toolpath({**data, "operations": [operation], **more})


@pytest.mark.parametrize(("held", "sets", "turned"), [
    ({"at": "from"}, (), False), ({"at": "from"}, (RIGHT,), True), ({"at": "to"}, (), True), ({"at": "to"}, (RIGHT,), False),
    (None, (), False), (None, (RIGHT,), False),
])  # fmt: skip
def test_the_job_is_turned_where_the_chuck_faces_the_other_way_than_the_held_end_asks(
    held: dict[str, Any] | None, sets: tuple[str, ...], turned: bool
) -> None:
    resolved = resolve("rs274ngc", sets)
    assert turned == held_at_the_other_end(part(held), resolved.profile.rotary["A"])
    underway = begin(part(held), resolved)
    text = b"".join(underway).decode()
    assert turned == any(notice.kind == "EndForEnd" for notice in underway.notices)
    assert turned == ("turned end for end" in text)
    assert prove(text.encode(), part(held), resolved.profile).whole.end_for_end == turned


def test_the_head_says_where_the_stock_is_held_in_units_of_the_program() -> None:
    assert "(stock held at X -90)" in posted_text(part({"at": "from"}), "rs274ngc")
    assert "(turned end for end, signs of X and Y changed, held at X 90)" in posted_text(part({"at": "from"}), "rs274ngc", sets=[RIGHT])
    assert "held at" not in posted_text(part(None), "rs274ngc")


def test_every_move_is_turned_and_turned_twice_it_is_the_same() -> None:
    toolpath = part({"at": "from"}, centre=[1, 2, 3])
    once, twice = end_for_end(toolpath), end_for_end(end_for_end(toolpath))
    assert once.centre == (-1, -2, 3)
    run, holes = once.operations[0].stream()
    assert isinstance(run, MoveColumns)
    assert isinstance(holes, Holes)
    (hole,) = holes
    written, _ = toolpath.operations[0].stream()
    assert isinstance(written, MoveColumns)
    assert run.end[2].tolist() == [10, -5, 12]
    assert (hole.x, hole.y, hole.bottom) == (30, -4, 10)
    assert (written.kind[3], run.kind[3]) == (ARC_COUNTERCLOCKWISE, ARC_CLOCKWISE)
    assert run.arcs is not None
    assert written.arcs is not None
    assert run.arcs.plane[3] == PLANE_XZ
    assert run.arcs.sweep_rad[3] == -written.arcs.sweep_rad[3]
    again, _ = twice.operations[0].stream()
    assert isinstance(again, MoveColumns)
    assert again.arcs is not None
    for column in ("end", "kind"):
        np.testing.assert_array_equal(getattr(again, column), getattr(written, column))
    for column in ("centre", "sweep_rad"):
        np.testing.assert_array_equal(getattr(again.arcs, column), getattr(written.arcs, column))


def test_along_z_nothing_can_be_turned_and_a_contradiction_is_refused() -> None:
    operation = {"tool": 1, "spindle": {"rpm": 300, "turns": "clockwise"}, "rotary": {"intent": "indexed", "angles": [0]},
                 "moves": [{"rapid": [30, 0, 60]}, {"cut": [30, 0, 20], "feed": 100}]}  # fmt: skip
    stock = {"shape": "round", "diameter": 40, "from": 0, "to": 50, "held": {"at": "to"}}
    upright = part(None, axis="Z", stock=stock, operations=[operation])
    profile = load_profile("upright-c")
    with pytest.raises(PlanError, match="hold it at 'from' with a chuck that faces \\+Z"):
        begin(upright, resolve("upright-c"))
    with pytest.raises(ToolpathError, match="along Z nothing can be turned"):
        prove(b"M2\n", upright, profile)
    right_way_up = part(None, axis="Z", stock={**stock, "held": {"at": "from"}}, operations=[operation])
    begin(right_way_up, resolve("upright-c"))


def test_a_start_position_in_the_stock_as_it_stands_is_refused_since_it_is_not_turned() -> None:
    there = "program.start_position=[50, 0, 15, 0]"
    posted_text(part({"at": "from"}), "incremental", sets=[there])
    with pytest.raises(SteadyrestError, match="the start position X 50, Y 0, Z 15 of incremental is in the space that the stock sweeps"):
        posted_text(part({"at": "from"}), "incremental", sets=[there, RIGHT])


@pytest.mark.parametrize(("axis", "ends"), [(0, (-93.0, 3.0)), (1, (-23.0, 23.0)), (2, (None, 20.0))])
def test_a_start_position_is_clear_of_the_stock_by_half_a_tool_beside_it_and_by_nothing_over_it(
    axis: int, ends: tuple[float | None, float]
) -> None:
    for end, outward in zip(ends, (-1, 1), strict=True):
        for off in (-0.1, 0.1):
            place = [-40.0, 0.0, 10.0]
            place[axis] = -1000.0 if end is None else end + outward * off
            profile = load_profile("incremental", [f"program.start_position=[{place[0]}, {place[1]}, {place[2]}, 0]"])
            if end is not None and off > 0:
                check_start_position(part(None), profile)
            else:
                with pytest.raises(PlanError, match="is in the space that the stock sweeps"):
                    check_start_position(part(None), profile)


@pytest.mark.parametrize(("x_mm", "in_the_stock"), [(-104.9, False), (-104.7, True), (3.1, True), (3.3, False)])
def test_a_start_position_is_in_millimetres_beside_a_stock_in_inches(x_mm: float, in_the_stock: bool) -> None:
    moves = [{"rapid": [-1, 0, 3]}, {"cut": [-1, 0, 0.9], "feed": 10}]
    operation = {"tool": 1, "spindle": {"rpm": 300, "turns": "clockwise"}, "rotary": {"intent": "indexed", "angles": [0]}, "moves": moves}
    stock = {"shape": "round", "diameter": 2, "from": -4, "to": 0}
    tools = [{"number": 1, "shape": "flat", "diameter": 0.25}]
    inches = part(None, units="inch", stock=stock, tools=tools, operations=[operation])
    profile = load_profile("incremental", [f"program.start_position=[{x_mm}, 0, 10, 0]"])
    if in_the_stock:
        with pytest.raises(PlanError, match="is in the space that the stock sweeps"):
            check_start_position(inches, profile)
    else:
        check_start_position(inches, profile)
