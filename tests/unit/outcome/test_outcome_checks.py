"""The held end: what lies in the jaws, how long the stock has to be, and that it is said which end is held."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from steadyrest.findings import Finding
from steadyrest.outcome import jaws_findings
from steadyrest.posting import begin
from steadyrest.profile import resolve
from steadyrest.proof import prove, setting_of
from steadyrest.toolpath import load_toolpath, parse_toolpath

DEMO = Path(__file__).parents[3] / "demo"

RIGHT = "rotary.A.chuck_faces=-X"
SLOT = [{"rapid": [-40, 0, 30]}, {"cut": [-40, 0, 15], "feed": 300}, {"cut": [-65, 0, 15]}, {"rapid": [-65, 0, 30]}]


def found(
    held: dict[str, Any] | None,
    moves: list[dict[str, Any]],
    *sets: str,
    controller: str = "rs274ngc",
    intent: dict[str, Any] | None = None,
    stock: dict[str, Any] | None = None,
    **more: Any,
) -> list[Finding]:
    """What is found of a 6 mm end mill on a bar from X -90 to 0."""
    bar = {"shape": "round", "diameter": 40, "from": -90, "to": 0, **(stock or {}), **({"held": held} if held is not None else {})}
    operation = {
        "tool": 1,
        "spindle": {"rpm": 300, "turns": "clockwise"},
        "rotary": intent or {"intent": "indexed", "angles": [0, 90]},
        "moves": moves,
    }
    toolpath = parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "stock": bar,
            "tools": [{"number": 1, "shape": "flat", "diameter": 6}],
            "operations": [operation],
            **more,
        }
    )
    resolved = resolve(controller, sets)
    text = b"".join(begin(toolpath, resolved))
    verdict = prove(text, toolpath, resolved.profile)
    assert verdict.proved, verdict.text()
    return jaws_findings(setting_of(toolpath, resolved.profile, None, None), verdict)


def names(findings: list[Finding]) -> list[str]:
    return [one.name for one in findings]


def test_a_cut_within_the_held_length_is_in_the_jaws_its_radius_included() -> None:
    assert [] == found({"at": "from", "length": 22}, SLOT)
    (jaws,) = found({"at": "from", "length": 23.5}, SLOT)
    assert ("jaws", "stop", 1) == (jaws.name, jaws.weight, jaws.operation)
    assert "the cutter reaches X -68, radius included: 1.5 mm into the jaws, which hold the stock from X -90 to -66.5" in jaws.sentence
    assert jaws.line


def test_turned_end_for_end_the_same_cut_is_as_far_from_the_same_end() -> None:
    assert [] == found({"at": "from", "length": 22}, SLOT, RIGHT)
    (jaws,) = found({"at": "from", "length": 23.5}, SLOT, RIGHT)
    assert "reaches X 68, radius included: 1.5 mm into the jaws, which hold the stock from X 90 to 66.5" in jaws.sentence


def test_held_at_the_other_end_the_other_side_of_the_cut_counts() -> None:
    assert [] == found({"at": "to", "length": 37}, SLOT, RIGHT)
    assert ["jaws"] == names(found({"at": "to", "length": 37.5}, SLOT, RIGHT))
    assert ["jaws"] == names(found({"at": "to", "length": 37.5}, SLOT))


def test_without_a_length_and_with_none_what_lies_past_the_end_is_in_the_jaws() -> None:
    past = [{"rapid": [-60, 0, 30]}, {"cut": [-60, 0, 15], "feed": 300}, {"cut": [-88, 0, 15]}, {"rapid": [-88, 0, 30]}]
    for held in ({"at": "from"}, {"at": "from", "length": 0}):
        short, jaws = found(held, past)
        assert ["stick-out", "jaws"] == [short.name, jaws.name]
        assert "1 mm past the held end, X -90" in jaws.sentence
    assert [] == found({"at": "from"}, [{**move, "cut": [-87, 0, 15]} if move.get("cut") == [-88, 0, 15] else move for move in past[:3]])


def test_the_side_of_an_arc_counts_and_not_only_its_ends() -> None:
    """Half a circle round X -60 from Y 10 to Y -10, by X -70 on the way; the other half stays on this side."""
    arc = [
        {"rapid": [-60, 10, 30]},
        {"cut": [-60, 10, 15], "feed": 300},
        {"arc": [-60, -10, 15], "centre": [-60, 0, 15], "turns": "counterclockwise"},
        {"rapid": [-60, -10, 30]},
    ]
    (jaws,) = found({"at": "from", "length": 20}, arc)
    assert "reaches X -73" in jaws.sentence
    other_way = [{**move, "turns": "clockwise"} if "arc" in move else move for move in arc]
    assert [] == found({"at": "from", "length": 26}, other_way)


def test_a_rapid_counts_below_the_clear_height_and_not_above_it() -> None:
    high = [{"rapid": [-85, 0, 30]}, *SLOT]
    assert [] == found({"at": "from", "length": 20}, high)
    low = [{"rapid": [-85, 30, 30]}, {"rapid": [-85, 30, 5]}, {"rapid": [-85, 30, 30]}, *SLOT]
    assert ["jaws"] == names(found({"at": "from", "length": 20}, low))


def test_a_bar_shorter_than_what_has_to_stick_out_is_too_short() -> None:
    """Nobody said which end is held: at the right end of the table the chuck would hold the end that is cut."""
    ahead = [{"rapid": [4, 0, 30]}, {"cut": [4, 0, 15], "feed": 300}, {"cut": [-65, 0, 15]}, {"rapid": [-65, 0, 30]}]
    assert ["held"] == names(found(None, ahead))
    short, jaws, held = found(None, ahead, RIGHT)
    assert ["stick-out", "jaws", "held"] == [short.name, jaws.name, held.name]
    assert short.weight == "stop"
    assert "reach 97 mm from the free end of the stock, at X -90, but the stock is only 90 mm long" in short.sentence


def test_the_distributor_without_its_held_end_is_too_long_for_its_bar_at_the_right_end() -> None:
    """Posted as it is the chuck would hold the end on which the flats are."""
    part = load_toolpath(DEMO / "distributor" / "distributor.toolpath.json")
    resolved = resolve("rs274ngc-right-end")
    assert part.stock is not None
    unsaid = part.model_copy(update={"stock": part.stock.model_copy(update={"held": None})})
    verdict = prove(b"".join(begin(unsaid, resolved)), unsaid, resolved.profile)
    short, jaws, *_ = jaws_findings(setting_of(unsaid, resolved.profile, None, None), verdict)
    assert [("stick-out", "stop"), ("jaws", "stop")] == [(one.name, one.weight) for one in (short, jaws)]
    assert "but the stock is only 120 mm long" in short.sentence
    verdict = prove(b"".join(begin(part, resolved)), part, resolved.profile)
    assert [] == jaws_findings(setting_of(part, resolved.profile, None, None), verdict)


def test_which_end_the_chuck_implies_and_how_far_off_the_cutter_stays_is_said_where_nobody_said_it() -> None:
    (held,) = found(None, SLOT)
    assert ("held", "look") == (held.name, held.weight)
    assert "the chuck faces +X, so the left end at X -90 is assumed, and the cutter stays 22 mm from it" in held.sentence
    (held,) = found(None, SLOT, RIGHT)
    assert "the chuck faces -X, so the right end at X 0 is assumed, and the cutter stays 37 mm from it" in held.sentence


def test_lengths_are_said_in_the_units_of_the_program() -> None:
    (held,) = found(None, SLOT, "units.program=inch")
    assert "stays 0.8661 inch from it" in held.sentence


def test_a_wrapped_and_an_upright_job_are_judged_alike() -> None:
    wrapped = [{"rapid": [-40, 0, 5]}, {"cut": [-40, 0, -1], "feed": 300}, {"cut": [-66, 60, -1]}, {"rapid": [-66, 60, 5]}]
    intent = {"intent": "wrapped", "diameter": 40}
    assert [] == found({"at": "from", "length": 20}, wrapped, intent=intent)
    assert ["jaws"] == names(found({"at": "from", "length": 22}, wrapped, intent=intent))
    upright = [{"rapid": [23, 0, 60]}, {"rapid": [23, 0, 52]}, {"cut": [23, 0, 12], "feed": 300}, {"rapid": [23, 0, 60]}]
    plate = {"from": 0, "to": 50}
    assert [] == found({"at": "from", "length": 12}, upright, controller="upright-c", stock=plate, axis="Z")
    assert ["jaws"] == names(found({"at": "from", "length": 13}, upright, controller="upright-c", stock=plate, axis="Z"))


def test_without_a_rotary_nothing_is_said_of_jaws() -> None:
    flat = {"intent": "still"}
    assert [] == found(None, SLOT, controller="rs274ngc-b", intent=flat)


@pytest.mark.parametrize("centre", [[0, 0, 0], [12, 3, -4]])
def test_places_are_work_coordinates_wherever_the_centre_is(centre: list[float]) -> None:
    moved = [{key: [a + b for a, b in zip(value, centre, strict=True)] if key in ("rapid", "cut") else value for key, value in move.items()}
             for move in SLOT]  # fmt: skip
    (held,) = found(None, moved, centre=centre)
    assert f"at X {-90 + centre[0]} is assumed, and the cutter stays 22 mm from it" in held.sentence
