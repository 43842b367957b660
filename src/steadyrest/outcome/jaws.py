"""Does the cutter come into the jaws, is the stock long enough for what has to stick out of them, and is it said which end is held?"""

from __future__ import annotations

from dataclasses import dataclass

from steadyrest.findings import Finding
from steadyrest.profile import Profile, rotaries_of
from steadyrest.proof import OperationFigures, Verdict, as_mounted
from steadyrest.toolpath import Stock, Toolpath

MM_PER_INCH = 25.4
_END = {"X-": "left end", "X+": "right end", "Y-": "- end", "Y+": "+ end", "Z-": "lower end", "Z+": "upper end"}


@dataclass(frozen=True, slots=True)
class _Jaws:
    """The stock in the chuck, file units. `sign`: -1 where its end at the lower coordinate is held, else +1."""

    stock: Stock
    axis: str
    at: float
    free: float
    sign: int
    length: float

    def into(self, place: float) -> float:
        """How far a place along the axis is from the jaws' face towards the held end; less than 0 outside them."""
        return self.sign * (place - self.at) + self.length


def jaws_findings(toolpath: Toolpath, profile: Profile, verdict: Verdict) -> tuple[Finding, ...]:
    """What the proof's figures say of the held end; nothing without stock or rotary.

    jaws        a place of the cutter, at feed or at rapid below the clear height, within the length that is held; past the held end where
                no length is said
    stick-out   the cutters reach farther from the free end than the stock is long
    held        the toolpath does not say which end is held: it is the one that the chuck's direction implies
    """
    rotary = next(iter(rotaries_of(profile, toolpath.axis).values()), None)
    stock = as_mounted(toolpath, rotary).stock
    if rotary is None or stock is None:
        return ()
    mounted = as_mounted(toolpath, rotary)
    axis = toolpath.axis
    low, high = (end + mounted.centre["XYZ".index(axis)] for end in stock.along(axis))
    at_low = rotary.chuck_faces.startswith("+")
    length = stock.held.length or 0.0 if stock.held is not None else 0.0
    jaws = _Jaws(stock, axis, low if at_low else high, high if at_low else low, -1 if at_low else 1, length)
    say = _Lengths(toolpath, profile)
    reaches = [
        (one, *_farthest(one, toolpath, jaws)) for one in verdict.operations if one.reach is not None and one.reach_lines is not None
    ]
    found = [
        Finding("jaws", "stop", _in_the_jaws(place, jaws, say), line=line, operation=one.number)
        for one, place, line in reaches
        if jaws.into(place) > one.rounding + 1e-6
    ]
    nearest = max(reaches, key=lambda one: jaws.into(one[1]), default=None)
    if nearest is not None:
        one, place, line = nearest
        needed, whole = abs(place - jaws.free), abs(jaws.at - jaws.free)
        if needed > whole + one.rounding + 1e-6:
            found.insert(0, Finding("stick-out", "stop", _too_short(needed, whole, jaws, say), line=line, operation=one.number))
    if stock.held is None:
        found.append(Finding("held", "look", _not_said(nearest[1] if nearest is not None else None, jaws, rotary.chuck_faces, say)))
    return tuple(found)


def _farthest(one: OperationFigures, toolpath: Toolpath, jaws: _Jaws) -> tuple[float, int]:
    """The place of an operation's cutter that is nearest to the held end, its radius included, and the line."""
    assert one.reach is not None
    assert one.reach_lines is not None
    aside = toolpath.tool(one.tool).diameter / 2 if jaws.axis != "Z" else 0.0
    at = 0 if jaws.sign < 0 else 1
    return one.reach[at] + jaws.sign * aside, one.reach_lines[at]


class _Lengths:
    """Lengths and places in the units of the program."""

    def __init__(self, toolpath: Toolpath, profile: Profile) -> None:
        program = profile.units.program
        self.units = program if program in ("mm", "inch") else toolpath.units
        factor = {("mm", "inch"): 1 / MM_PER_INCH, ("inch", "mm"): MM_PER_INCH}
        self._scale = factor.get((toolpath.units, self.units), 1.0)

    def length(self, value: float) -> str:
        """Such as `12.5 mm`."""
        return f"{self.number(value)} {self.units}"

    def number(self, value: float) -> str:
        """Thousandths of a mm or ten-thousandths of an inch at the finest."""
        text = f"{value * self._scale:.{4 if self.units == 'inch' else 3}f}".rstrip("0").rstrip(".")
        return "0" if text == "-0" else text


def _in_the_jaws(place: float, jaws: _Jaws, say: _Lengths) -> str:
    where = f"the cutter reaches {jaws.axis} {say.number(place)}, its radius included"
    depth = say.length(jaws.into(place))
    if jaws.length:
        face = jaws.at - jaws.sign * jaws.length
        return (
            f"{where}: {depth} into the jaws, which hold the stock from {jaws.axis} {say.number(jaws.at)} to {say.number(face)}; "
            "hold less of it, take longer stock, or cut less far"
        )
    return f"{where}: {depth} past the end that is held, {jaws.axis} {say.number(jaws.at)}; take longer stock, or cut less far"


def _too_short(needed: float, whole: float, jaws: _Jaws, say: _Lengths) -> str:
    return (
        f"the stock would have to stick out of the jaws by more than {say.length(needed)}, measured from its free end at "
        f"{jaws.axis} {say.number(jaws.free)}, and it is {say.length(whole)} long; take longer stock, or say which end is held: "
        "'held' in the toolpath's stock"
    )


def _not_said(place: float | None, jaws: _Jaws, faces: str, say: _Lengths) -> str:
    end = _END[jaws.axis + ("-" if jaws.sign < 0 else "+")]
    stays = ""
    if place is not None:
        off = -jaws.into(place)
        stays = f", and the cutter stays {say.length(off)} from it" if off >= 0 else f", and the cutter goes {say.length(-off)} past it"
    return (
        f"which end of the stock is held is not said: the chuck faces {faces}, so it is the {end}, at {jaws.axis} {say.number(jaws.at)}"
        f"{stays}; say it as 'held' in the toolpath's stock"
    )
