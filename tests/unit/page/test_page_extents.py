"""What cuts leave of the stock, in sentences."""

from __future__ import annotations

from typing import Any

from steadyrest.page.extents import extents, reaches


def facts(along: list[float], radius: list[float], held: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    """A bar of 40 from -90 to 0, and one operation with a tool of 6 mm."""
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0, **({"held": held} if held else {})}
    operation = {"number": 1, "name": "slot", "tool": 7, "along": along, "radius": radius}
    tools = [{"number": 7, "shape": "flat", "diameter": 6}]
    toolpath = {"units": "mm", "axis": "X", "centre": [0, 0, 0], "stock": stock, "tools": tools, "operations": [operation]}
    return {"missing": [], "toolpath": toolpath, **more}


def test_what_is_left_at_each_end_and_how_deep_it_goes() -> None:
    told = dict(extents(facts([-30, -10], [18, 25], {"at": "from", "length": 20})))
    assert {
        "Cuts from X -33 to -7, the width of the tool included; the stock is from X -90 to 0.",
        "57 mm left at the end at X -90.",
        "7 mm left at the end at X 0.",
        "It stays 37 mm clear of the jaws.",
        "It comes to 18 mm from the axis of rotation, 2 mm below the outermost surface; as it turns, the stock sweeps 20 mm.",
    } == told.keys()
    assert not any(told.values())


def test_cuts_past_the_stock_in_the_jaws_and_in_the_air_are_told() -> None:
    past = [words for words, _ in extents(facts([-30, 5], [18, 18]))]
    assert "The tool reaches 8 mm past the stock at the end at X 0." in past
    assert "Which end is in the jaws is not said." in past
    assert ("'slot' reaches 13 mm into the jaws.", True) in extents(facts([-80, -10], [18, 18], {"at": "from", "length": 20}))
    assert any(act and "2 mm outside of all that turns" in words for words, act in extents(facts([-30, -10], [22, 25])))
    assert any(act and "past the end of the stock" in words for words, act in extents(facts([10, 20], [18, 18])))


def test_a_tool_without_a_shape_is_counted_as_its_tip() -> None:
    missing = [{"number": 7, "name": "", "diameter": None, "why": ""}]
    assert "Cuts from X -30 to -10, of the tip alone" in extents(facts([-30, -10], [18, 18], missing=missing))[0][0]


def test_without_stock_or_toolpath_nothing_is_told() -> None:
    without = facts([-30, -10], [18, 18])
    without["toolpath"]["stock"] = None
    assert [] == extents(without) == extents({"missing": [], "toolpath": None}) == reaches(without)
