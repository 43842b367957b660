"""The example of the contract loads, streams and survives being written."""

from pathlib import Path

import numpy as np

from steadyrest.toolpath import ARC_CLOCKWISE, CUT, RAPID, Dwell, MoveColumns, load_toolpath, toolpath_text

EXAMPLE = Path(__file__).parent / "lantern_spindle.toolpath.json"


def test_the_flats_stream_as_one_run_and_a_dwell() -> None:
    run, dwell = load_toolpath(EXAMPLE).operations[0].stream()
    assert isinstance(run, MoveColumns)
    assert [RAPID, RAPID, CUT, ARC_CLOCKWISE] == run.kind.tolist()
    np.testing.assert_array_equal([np.nan, np.nan, 900, 600], run.feed)
    assert Dwell(move=5, seconds=0.5) == dwell


def test_a_clockwise_half_circle_sweeps_minus_pi() -> None:
    run = next(load_toolpath(EXAMPLE).operations[0].stream())
    assert isinstance(run, MoveColumns)
    assert run.arcs is not None
    np.testing.assert_allclose(run.arcs.sweep_rad[3], -np.pi)


def test_the_swept_radius_of_a_round_bar_is_half_its_diameter() -> None:
    assert load_toolpath(EXAMPLE).swept_radius == 20.0


def test_dumped_and_loaded_again_it_is_the_same(tmp_path: Path) -> None:
    toolpath = load_toolpath(EXAMPLE)
    (tmp_path / "again.toolpath.json").write_text("".join(toolpath_text(toolpath)), encoding="utf-8")
    assert toolpath == load_toolpath(tmp_path / "again.toolpath.json")
