"""What was found is said in one line, and as data with its uncertainties."""

from __future__ import annotations

import json

import pytest
from centre_parts import BAR, centre


def test_the_offsets_to_enter_are_said_in_one_line() -> None:
    result = centre("find", *BAR)
    assert 0 == result.exit_code
    assert "enter into the work offset: Y -12.4730, Z -11.7590" in result.output


def test_the_work_offset_of_the_controller_is_named() -> None:
    assert "the work offset (G55): Y -12.4730" in centre("find", *BAR, "-c", "tip-feed").output


def test_the_result_as_json_has_values_uncertainties_and_where_they_came_from() -> None:
    found = json.loads(centre("find", *BAR, "--json").stdout)
    assert pytest.approx(-12.473) == found["centre"]["Y"]["value"]
    assert ["top of the bar"] == [each["how"] for each in found["centre"]["Z"]["from"]]
    assert found["agrees"] is True
