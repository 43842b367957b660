"""How do cuts lie against the stock: how far from its ends and from the jaws, how deep, and do they reach it at all?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from steadyrest.conventions import AXES
from steadyrest.toolpath.parts import Stock

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Reach:
    """Cuts against the stock; lengths in file units, positions along the axis of rotation in the part frame.

    cuts     from where to where the tool cuts along the axis, its width included. A ball or a point is counted as wide as the tool, so
             it may be less
    stock    from where to where the stock is along the axis
    nearest  how near the tool comes to the axis of rotation; 0: it reaches it. Where the tool looks at the axis (X and Y) this is its tip
    swept    how far the turning stock reaches from the axis
    jaws     from where to where the stock is in the jaws, and all beyond them; None: the held end is not stated
    """

    cuts: Span
    stock: Span
    nearest: float
    swept: float
    jaws: Span | None

    @property
    def left(self) -> Span:
        """What of the stock is left beyond the cuts, at its beginning and at its end; negative: the tool reaches past it by that."""
        return self.cuts[0] - self.stock[0], self.stock[1] - self.cuts[1]

    @property
    def depth(self) -> float:
        """How deep below the outermost surface; negative: the tool stays that far outside of all that turns."""
        return self.swept - self.nearest

    @property
    def clear_of_jaws(self) -> float | None:
        """How far the tool stays from the jaws along the axis; negative: so far into them. None where the held end is not stated."""
        if self.jaws is None:
            return None
        return self.cuts[0] - self.jaws[1] if self.jaws[0] <= self.stock[0] else self.jaws[0] - self.cuts[1]

    @property
    def touches(self) -> bool:
        """Whether the tool can cut any of it: not where it stays outside of what turns, or past an end."""
        return self.depth > 0 and min(self.cuts[1], self.stock[1]) > max(self.cuts[0], self.stock[0])


def reach(stock: Stock, axis: str, centre: Sequence[float], along: Span, radius: Span, tool_diameter: float) -> Reach:
    """Cuts that an operation's facts (`operation_facts`) place along and round the axis, against a stock.

    along, radius    of the tip, as in the facts: along in the part frame, radius from the axis of rotation
    tool_diameter    0 where it is not known: then all is of the tip alone
    """
    zero, half = centre[AXES.index(axis)], tool_diameter / 2
    begin, end = (zero + each for each in stock.along(axis))
    across, towards = (0.0, half) if axis == "Z" else (half, 0.0)
    jaws = None
    if stock.held is not None:
        deep = stock.held.length or 0.0
        jaws = (-float("inf"), begin + deep) if stock.held.at == "from" else (end - deep, float("inf"))
    cuts = (along[0] - across, along[1] + across)
    return Reach(cuts, (begin, end), max(0.0, radius[0] - towards), stock.swept_radius(axis), jaws)


def together(reaches: Iterable[Reach]) -> Reach | None:
    """Several operations' cuts as one; None for none."""
    found = list(reaches)
    if not found:
        return None
    first = found[0]
    cuts = (min(each.cuts[0] for each in found), max(each.cuts[1] for each in found))
    return Reach(cuts, first.stock, min(each.nearest for each in found), first.swept, first.jaws)
