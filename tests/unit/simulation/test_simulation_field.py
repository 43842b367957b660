"""The lines of the stock."""

from __future__ import annotations

import pytest

from simulated import BAR, END_MILL, part, reference
from steadyrest.errors import ToolpathError
from steadyrest.simulation import Simulation, stock_field

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
