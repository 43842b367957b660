"""The lines of the stock."""

from __future__ import annotations

import numpy as np
import pytest

from simulated import BAR, END_MILL, part, reference
from steadyrest.errors import ToolpathError
from steadyrest.simulation import Simulation, stock_field
from steadyrest.simulation.field import Section

SLOT = "G0 X-5 Y0 A{angle}\nG0 Z25\nG1 Z17\nG1 X45\nG53 G0 Z0\n"
TWO = SLOT.format(angle=0) + SLOT.format(angle=90)


def test_the_field_is_as_fine_as_asked_and_fine_enough_by_default() -> None:
    job = part([END_MILL], BAR | {"to": 200})

    assert (50, 70) == stock_field(job, 50, 70).shape
    assert (1024, 2048) == stock_field(job).shape


def test_without_stock_there_is_nothing_to_cut() -> None:
    with pytest.raises(ToolpathError, match="no stock is given"):
        Simulation(part([END_MILL], None), reference())


@pytest.mark.parametrize("wrong", [{"along": 1}, {"around": 0}])
def test_a_field_of_no_width_is_refused(wrong: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="at least 2 lines"):
        stock_field(part([END_MILL], BAR), **wrong)


STOCKS = {
    "round": {"shape": "round", "diameter": 40, "from": 0, "to": 40, "offset": [3, -2]},
    "rectangular": {"shape": "rectangular", "across": [30, 20], "from": 0, "to": 40, "offset": [3, -2]},
}


@pytest.mark.parametrize("shape", STOCKS)
@pytest.mark.parametrize("axis", ["X", "Y"])
def test_what_a_section_says_of_radii_heights_and_places_is_one_section(shape: str, axis: str) -> None:
    stock = part([END_MILL], STOCKS[shape], axis=axis).stock
    assert stock is not None
    section = Section.of(stock, axis, 1.0)
    angle, radius = np.linspace(-np.pi, np.pi, 97), np.linspace(0.05, 30, 600)
    low, high = section.radii(angle)
    places = radius[:, None] * np.exp(1j * angle)
    inside = section.holds(places)

    clear = (np.abs(radius[:, None] - low) > 0.1) & (np.abs(radius[:, None] - high) > 0.1)
    np.testing.assert_array_equal(inside[clear], ((radius[:, None] > low) & (radius[:, None] < high))[clear])
    for phi in (0.0, 0.7, 3.0):
        turned = places[inside] * np.exp(1j * phi)
        for left, right in ((-4.0, 5.0), (8.0, 9.5), (-60.0, 60.0)):
            within = turned[(turned.imag >= left) & (turned.imag <= right)]
            top, bottom = (one.item() for one in section.heights(np.array([left]), np.array([right]), np.array([phi])))
            assert within.real.max() <= top < within.real.max() + 1
            assert within.real.min() - 1 < bottom <= within.real.min()
    assert section.heights(np.array([50.0]), np.array([60.0]), np.array([0.0]))[0].item() == -np.inf
