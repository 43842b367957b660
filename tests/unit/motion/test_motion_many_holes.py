"""A cycle of very many holes is begun anew now and then."""

from __future__ import annotations

from unittest.mock import patch

import pytest

from steadyrest.posting import posted_text
from steadyrest.toolpath import moves, parse_toolpath


@pytest.mark.parametrize("name", ["rs274ngc", "incremental"])
def test_holes_beyond_the_most_of_a_cycle_go_into_the_next(name: str) -> None:
    holes = [{"hole": [-at, 0], "retract": 22.0, "bottom": 15.0, "feed": 100.0} for at in range(1, 13)]
    part = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
        "tools": [{"number": 3, "shape": "drill", "diameter": 3, "point_angle": 118}],
        "operations": [
            {
                "tool": 3,
                "spindle": {"rpm": 8000, "turns": "clockwise"},
                "rotary": {"intent": "indexed", "angles": [0]},
                "moves": [{"rapid": [-1, 0, 30]}, *holes],
            }
        ],
    }
    assert posted_text(parse_toolpath(part), name).count("G81") == 1
    with patch.object(moves, "RUN_LENGTH", 5):
        assert posted_text(parse_toolpath(part), name).count("G81") == 3
