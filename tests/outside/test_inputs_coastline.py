"""An open coastline drawn as a flat program and wrapped: the rotary's angle at every point is the longitude of the place.

Source: Natural Earth, 1:110 million, public domain, as kept in demo/coast_roller/coastline.json (its README says where from). On an
equirectangular map a length is r times the longitude or latitude in radians (J. P. Snyder, Map Projections: A Working Manual,
US Geological Survey Professional Paper 1395, 1987, section 12), so r = D / 2 brings longitudes back as angles.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from steadyrest.inputs import Input, PartOptions, take
from steadyrest.motion import Motion, plan
from steadyrest.profile import load_profile

COAST = Path(__file__).parents[2] / "demo" / "coast_roller" / "coastline.json"
DIAMETER = 60.0
RADIUS = DIAMETER / 2


@pytest.fixture(scope="module")
def lines() -> list[NDArray[np.float64]]:
    """Longitudes and latitudes of the coastlines, degrees, (n, 2) each."""
    data: dict[str, Any] = json.loads(COAST.read_text(encoding="utf-8"))
    return [np.array(line) for line in data["polylines"]]


def flat_program(lines: list[NDArray[np.float64]], developed: str) -> str:
    """The map as a flat program, north along the other axis, east so that longitudes count up with the angle of the tool."""
    blocks = ["G21 G17 G90 G94 G40 G49 G80 G54", "T1 M6", "S8000 M3"]
    for line in lines:
        east, north = RADIUS * np.radians(line[:, 0]), RADIUS * np.radians(line[:, 1])
        # alpha = start - y / r: east is down on a drawing with north to the right; drawn upright and turned, it is to the left.
        x, y = (north, -east) if developed == "Y" else (-east, -north)
        blocks.append(f"G0 X{x[0]:.6f} Y{y[0]:.6f} Z5")
        blocks.append("G1 Z-0.2 F200")
        blocks += [f"X{a:.6f} Y{b:.6f}" for a, b in zip(x[1:], y[1:], strict=True)]
        blocks.append("G0 Z5")
    return "\n".join([*blocks, "M2", ""])


@pytest.mark.parametrize("developed", ["Y", "X"])
@pytest.mark.parametrize(("faces", "sign"), [("+X", 1.0), ("-X", -1.0)])
def test_the_angle_of_every_point_is_its_longitude(
    lines: list[NDArray[np.float64]], developed: str, faces: str, sign: float, tmp_path: Path
) -> None:
    file = tmp_path / "coast.nc"
    file.write_text(flat_program(lines, developed))
    part = PartOptions.model_validate(
        {
            "stock": {"shape": "round", "diameter": DIAMETER, "from": -100, "to": 100},
            "tools": [{"number": 1, "shape": "ball", "diameter": 1.0}],
        }
    )
    toolpath = take([Input(file=file, wrap={"diameter": DIAMETER, "start_angle": 20, "developed": developed})], part)  # type: ignore[arg-type]
    profile = load_profile("rs274ngc", (f"rotary.A.chuck_faces={faces}",))
    runs = [item for item in plan(toolpath, profile).items if isinstance(item, Motion)]
    cuts = [(run.xyz[row, 0], run.rotary_deg[row, 0]) for run in runs for row in np.flatnonzero((run.kind == 1) & (run.move > 0))]
    expected, found = np.concatenate(lines), np.array(cuts)  # the plunge of each line stands at its first point
    assert expected.shape == found.shape
    assert len(expected) > 1000
    apart = (sign * found[:, 1] - 20 - expected[:, 0] + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(apart, 0.0, atol=1e-5)
    np.testing.assert_allclose(np.degrees(found[:, 0] / RADIUS), expected[:, 1], atol=1e-5)
