"""What inputs add up to while something is missing is told, never raised; whole it is what `take` gives."""

from __future__ import annotations

from pathlib import Path

from steadyrest.inputs import Input, PartOptions, overview, take

DEMO = Path(__file__).parents[3] / "demo" / "lantern_cap"
STOCK = {"shape": "round", "diameter": 40, "from": -90, "to": 0}


def test_missing_tools_and_stock_are_named_and_the_rest_can_be_looked_at() -> None:
    inputs = [Input(file=DEMO / "face.nc", indexed=(0, 120)), Input(file=DEMO / "nowhere.nc")]
    found = overview(inputs, PartOptions())
    assert [1] == [each.number for each in found.missing]
    assert found.needs_stock
    assert not found.whole
    assert found.toolpath is not None
    assert [(1, 1), (2, 0)] == [(each.first, each.operations) for each in found.inputs]
    assert "no such file" in str(found.inputs[1].error)


def test_whole_it_is_the_toolpath_that_is_taken() -> None:
    part = PartOptions.model_validate({"stock": STOCK, "tools": [{"number": 1, "shape": "flat", "diameter": 10}]})
    inputs = [Input(file=DEMO / "face.nc", indexed=(0, 120))]
    found = overview(inputs, part)
    assert found.whole
    assert found.toolpath is not None
    assert take(inputs, part).model_dump() == found.toolpath.model_dump()


def test_inputs_that_contradict_each_other_say_so() -> None:
    part = PartOptions.model_validate({"stock": STOCK, "axis": "Z", "tools": [{"number": 1, "shape": "flat", "diameter": 10}]})
    found = overview([Input(file=DEMO / "face.nc", wrap={"diameter": 40})], part)  # type: ignore[arg-type]
    assert not found.whole
    assert found.error is not None or found.inputs[0].error is not None


def test_nothing_that_can_be_read_gives_no_toolpath() -> None:
    found = overview([Input(file=DEMO / "nowhere.nc")], PartOptions())
    assert (None, True, ()) == (found.toolpath, found.needs_stock, found.missing)
