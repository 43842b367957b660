"""Inputs in two units."""

from pathlib import Path

from cl_text import HEAD

from steadyrest.inputs import Input, PartOptions, take

CL = HEAD + "PPRINT flats\nROTABL/ATANGL,60\nRAPID\nGOTO/1,2,30\nGOTO/1,2,18\nFINI\n"


PART = PartOptions(clearance=100.0)


def test_inputs_in_two_units_become_one(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    (tmp_path / "b.cl").write_text(CL.replace("UNITS/MM", "UNITS/INCHES").replace("CUTTER/6", "CUTTER/.25").replace("LOADTL/3", "LOADTL/4"))
    toolpath = take([Input(file=tmp_path / "a.cl"), Input(file=tmp_path / "b.cl")], PART)
    assert "mm" == toolpath.units
    first, second = ([move.model_dump(exclude_none=True) for move in operation.moves or ()] for operation in toolpath.operations)
    assert [(1, 2, 30), (25.4, 50.8, 762)] == [moves[0]["rapid"] for moves in (first, second)]
    assert [900, 22860] == [moves[1]["feed"] for moves in (first, second)]
    assert [6, 6.35] == [tool.diameter for tool in toolpath.tools]
