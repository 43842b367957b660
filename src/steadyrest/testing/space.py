"""What is there to cut, and with what: stock, the space around it, tools, feeds, and numbers as a file writes them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st

Draw = st.DrawFn
DECIMALS = 6


@dataclass(frozen=True, slots=True)
class Space:
    """Where the stock is, in file units; `unit` is a millimetre in them."""

    axis: str
    centre: tuple[float, ...]
    unit: float
    start: float
    stop: float
    least: float
    swept: float

    def along(self, draw: Draw) -> float:
        """A place along the axis, measured from `centre`."""
        return between(draw, self.start, self.stop)

    def safe(self, draw: Draw) -> float:
        """A height over the axis outside the swept radius."""
        return self.swept + between(draw, 3 * self.unit, 20 * self.unit)

    def depth(self, draw: Draw) -> float:
        """A height over the axis inside the stock."""
        return between(draw, 0.4 * self.least, 0.95 * self.least)


def between(draw: Draw, low: float, high: float) -> float:
    """One of the thousand and one numbers that part the way from low to high evenly."""
    return round(low + (high - low) * draw(st.integers(0, 1000)) / 1000, DECIMALS)


def rounded(point: Sequence[float]) -> list[float]:
    """The numbers with as many decimals as a file writes."""
    return [round(value, DECIMALS) for value in point]


def drawn_stock(draw: Draw, unit: float) -> tuple[dict[str, Any], float, float]:
    """Stock, and its least and swept radius; `unit`: a millimetre in file units."""
    start = between(draw, -120 * unit, -40 * unit)
    stop = between(draw, -5 * unit, 5 * unit)
    if draw(st.booleans()):
        diameter = between(draw, 20 * unit, 100 * unit)
        return {"shape": "round", "diameter": diameter, "from": start, "to": stop}, diameter / 2, diameter / 2
    across = [between(draw, 20 * unit, 80 * unit), between(draw, 20 * unit, 80 * unit)]
    stock = {"shape": "rectangular", "across": across, "from": start, "to": stop}
    return stock, min(across) / 2, (across[0] ** 2 + across[1] ** 2) ** 0.5 / 2


def drawn_tools(draw: Draw, unit: float) -> list[dict[str, Any]]:
    """One to three tools of different shapes, numbers 1 to 99; `unit`: a millimetre in file units."""
    shapes: list[dict[str, Any]] = [
        {"shape": "flat", "name": "end mill"},
        {"shape": "ball", "name": "ball end mill"},
        {"shape": "bullnose", "name": "bullnose end mill", "corner_radius": round(0.5 * unit, DECIMALS)},
        {"shape": "drill", "name": "drill", "point_angle": 118},
        {"shape": "chamfer", "name": "chamfer mill", "tip_diameter": 0, "included_angle": 90},
    ]
    chosen = draw(st.lists(st.sampled_from(range(len(shapes))), min_size=1, max_size=3, unique=True))
    numbers = draw(st.lists(st.integers(1, 99), min_size=len(chosen), max_size=len(chosen), unique=True))
    return [
        {
            "number": number,
            "diameter": between(draw, 2 * unit, 12 * unit),
            "flutes": 3,
            "cutting_length": round(20 * unit, DECIMALS),
            "length": round(60 * unit, DECIMALS),
            **shapes[kind],
        }
        for number, kind in zip(numbers, chosen, strict=True)
    ]


def drawn_feed(draw: Draw, space: Space) -> float:
    """A feed per minute in file units, 50 to 2000 mm."""
    return round(draw(st.integers(50, 2000)) * space.unit, DECIMALS)
