"""Pictures show the machine as its spindle stands, and name directions for the axis of rotation."""

from __future__ import annotations

import numpy as np
import pytest
from viewer_parts import CONTROLLERS, looked, slot_and_letter

from steadyrest.viewer import draw
from steadyrest.viewer.views import CORNER, looks, rows


@pytest.mark.parametrize(("stands", "up", "away"), [("upright", (0, 0, 1), (0, 1, 0)), ("horizontal", (0, 1, 0), (0, 0, -1))])
def test_from_the_front_x_goes_to_the_right_and_up_is_up_at_the_machine(stands: str, up: tuple[int, ...], away: tuple[int, ...]) -> None:
    assert np.allclose([(1, 0, 0), up, away], rows(0.0, 0.0, stands))


@pytest.mark.parametrize("stands", ["upright", "horizontal"])
@pytest.mark.parametrize("axis", ["X", "Y", "Z"])
def test_both_ends_of_the_axis_have_a_button_that_looks_from_there(axis: str, stands: str) -> None:
    along = np.eye(3)["XYZ".index(axis)]
    ends = [(one, float(-rows(one.azimuth, one.elevation, stands)[2] @ along)) for one in looks(axis, stands) if f"{axis} end" in one.label]
    assert [pytest.approx(-1), pytest.approx(1)] == sorted(side for _, side in ends)
    assert all(("+" in one.label) == (side > 0) for one, side in ends)
    assert all(f"from the {'+' if side > 0 else '-'} end of {axis}" in one.title for one, side in ends)


def test_every_button_has_a_key_of_its_own() -> None:
    for axis in "XYZ":
        for stands in ("upright", "horizontal"):
            keys = [one.key for one in looks(axis, stands)]
            assert len(keys) == len(set(keys))


def test_upright_is_as_it_always_was_and_horizontal_another_picture() -> None:
    assert np.allclose(rows(*CORNER, "upright")[0], [np.cos(-0.6), np.sin(-0.6), 0])
    one, other = (
        draw(looked(slot_and_letter("Y"), None, f"spindle.stands={stands}", controller=CONTROLLERS["Y"]), "part", "svg")
        for stands in ("upright", "horizontal")
    )
    assert one != other
