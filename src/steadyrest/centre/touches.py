"""All touches together: the centre of rotation, how sure it is, and what to repeat where they do not agree.

With the axis of rotation along X or Y the centre has a coordinate across the table and a height Z; along Z it has X and Y.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin, sqrt

from steadyrest.centre.circle import Circle, Runout, circle, runout, two_readings
from steadyrest.centre.estimates import Estimate, bar_diameter, faces, flip, sides, top, touched
from steadyrest.errors import InputError, Place

ACROSS = {"X": ("Y", "Z"), "Y": ("X", "Z"), "Z": ("X", "Y")}
INDICATOR = {"X": "+Z", "Y": "+Z", "Z": "-Y"}
"""Where the indicator rests, unless said: on top; along Z on the side nearest to the operator."""

COVERAGE = 2.0
"""Expanded uncertainty, about 95 percent (JCGM 100:2008, 6.2 and G.6.6; from memory). What lies farther apart does not agree."""


@dataclass(frozen=True, slots=True)
class Touches:
    """What was touched, in one unit and one frame of coordinates.

    uncertainty    of one touch; reading_uncertainty of one indicator reading; both standard
    along          the axis to which the axis of rotation is parallel
    top            heights of the top of the bar, one per touch; needs `diameter`
    sides          axis, and the two sides
    faces          heights of two opposite faces, each on top, half a turn between; needs `thickness`
    flips          axis, and where one feature was at 0 and at 180 degrees
    points         where one feature was at three rotary angles or more: the two coordinates across the axis
    readings       commanded angle and indicator reading on the bar
    at_deg         the commanded angle at which bar and sides were touched
    end            touches of the bar's end: the direction in which it looks, such as +X, and the coordinate; along X and Y with the side
                   of `tool`
    chuck_face     the same of the chuck's face
    flat           two touches of one flat that looks at the spindle (along Z: at the operator): across, and height (along Z: X, and Y)
    sense          +1 where a positive command turns the part right-hand about the + direction of its axis, -1 left-hand, None: not known
    """

    along: str = "X"
    uncertainty: float = 0.01
    reading_uncertainty: float = 0.003
    diameter: float | None = None
    diameter_uncertainty: float = 0.0
    tool: float | None = None
    top: tuple[float, ...] = ()
    sides: tuple[tuple[str, float, float], ...] = ()
    faces: tuple[tuple[float, float], ...] = ()
    thickness: float | None = None
    thickness_uncertainty: float = 0.0
    flips: tuple[tuple[str, float, float], ...] = ()
    points: tuple[tuple[float, float], ...] = ()
    readings: tuple[tuple[float, float], ...] = ()
    indicator: str = ""
    at_deg: float = 0.0
    sense: int | None = None
    end: tuple[tuple[str, float], ...] = ()
    chuck_face: tuple[tuple[str, float], ...] = ()
    flat: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Coordinate:
    """One coordinate of the centre: the mean of its estimates, weighted by their uncertainties, and the estimates."""

    axis: str
    value: float
    uncertainty: float
    estimates: tuple[Estimate, ...]


@dataclass(frozen=True, slots=True)
class Flat:
    """A flat that was touched at two places.

    tilt_deg       by how much the part is turned right-hand about the axis' + direction from where the flat is level
    level_at_deg   the commanded angle at which it is level
    """

    tilt_deg: float
    level_at_deg: float
    uncertainty_deg: float


@dataclass(frozen=True, slots=True)
class Centre:
    """What was found.

    flat     the angle of a flat, where two places of it were touched
    end      what the coordinate along the axis belongs to, in words; empty where nothing was touched there
    repeat   what does not agree, and what to touch again: while there is anything, the coordinates are not to be used
    notes    what else is worth knowing
    """

    along: str
    coordinates: tuple[Coordinate, ...]
    runout: Runout | None
    circle: Circle | None
    repeat: tuple[str, ...]
    notes: tuple[str, ...]
    flat: Flat | None = None
    end: str = ""

    @property
    def agrees(self) -> bool:
        """Whether all touches agree with each other."""
        return not self.repeat


def find_centre(given: Touches) -> Centre:
    """The centre of rotation from whatever was touched.

    raises   InputError where something that is needed is missing, or cannot be of this rotary
    """
    _check(given)
    repeat: list[str] = []
    notes: list[str] = []
    found_runout = _runout(given)
    estimates = [_less_runout(each, given, found_runout, notes) for each in _of_the_bar(given, repeat)]
    estimates += [_of_faces(pair, given) for pair in given.faces]
    estimates += [flip(axis, touched([a], given.uncertainty), touched([b], given.uncertainty)) for axis, a, b in given.flips]
    found_circle = circle(given.points, given.uncertainty) if given.points else None
    if found_circle is not None:
        how = f"circle through {found_circle.count} points"
        estimates += [
            Estimate(axis, found_circle.centre[i], found_circle.uncertainty[i], how) for i, axis in enumerate(ACROSS[given.along])
        ]
    end = _along(given, repeat)
    flat = _flat(given)
    if end is None and flat is None and not estimates and found_runout is None:
        raise InputError("nothing was touched", cure="give at least the top of a bar with its diameter, or two sides")
    repeat += _residuals(given, found_runout, found_circle)
    coordinates = []
    for axis in ACROSS[given.along]:
        of_axis = tuple(each for each in estimates if each.axis == axis)
        if of_axis:
            coordinates.append(_mean(axis, of_axis))
            repeat += _differences(of_axis)
    if end is not None:
        coordinates.append(Coordinate(given.along, end.value, end.uncertainty, (end,)))
    return Centre(
        given.along,
        tuple(coordinates),
        found_runout,
        found_circle,
        tuple(repeat),
        tuple(dict.fromkeys(notes)),
        flat,
        end.how if end is not None else "",
    )


def _along(given: Touches, repeat: list[str]) -> Estimate | None:
    """The bar's end or the chuck's face: half the tool's diameter beside what was read; along Z the tool's end touched, and nothing is."""
    touches = given.end or given.chuck_face
    if not touches:
        return None
    key = "--end" if given.end else "--chuck-face"
    if given.end and given.chuck_face:
        raise InputError(
            "both the bar's end and the chuck's face are given", place=Place(key="--end"), cure="find and remember them one at a time"
        )
    looks = {side for side, _ in touches}
    if len(looks) > 1 or next(iter(looks))[1] != given.along:
        raise InputError(
            f"the touched face points to {' and '.join(sorted(looks))}, but the axis of rotation is along {given.along}",
            place=Place(key=key),
            cure=f"give either +{given.along} or -{given.along}",
        )
    side = next(iter(looks))
    if given.tool is None and given.along != "Z":
        raise InputError(
            "the side of the tool touched, but the tool's diameter is not given",
            place=Place(key="--tool"),
            cure="measure the tool and give --tool DIAMETER",
        )
    touch = touched([value for _, value in touches], given.uncertainty)
    what = f"{'end of the bar' if given.end else 'face of the chuck'} that looks to {side}"
    if touch.spread > 2 * COVERAGE * given.uncertainty:
        repeat.append(f"the {touch.count} touches of the {what} differ by {touch.spread:.4g}: clean both, and touch again")
    radius = (given.tool or 0.0) / 2 if given.along != "Z" else 0.0
    return Estimate(given.along, touch.value - radius * (1 if side[0] == "+" else -1), touch.uncertainty, what)


def _flat(given: Touches) -> Flat | None:
    """How a flat is tilted, and where the rotary has to stand for it to be level.

    A right-hand turn about +X by t takes (y, z) = (1, 0) to (cos t, sin t); about +Y (x, z) to (cos t, -sin t); about +Z (x, y) to
    (cos t, sin t). phi = sense W, so a tilt t goes when W changes by -sense t.
    """
    if not given.flat:
        return None
    if len(given.flat) != 2:
        raise InputError("a flat needs exactly two touches", place=Place(key="--flat"), cure="give --flat ACROSS HEIGHT twice, far apart")
    (first, low), (second, high) = sorted(given.flat)
    wide = second - first
    if wide <= 0 or abs(high - low) >= wide:
        raise InputError(
            f"{given.flat[0][0]:g} {given.flat[0][1]:g} and {given.flat[1][0]:g} {given.flat[1][1]:g} are not two touches of one "
            "nearly level flat",
            place=Place(key="--flat"),
            cure="turn the flat up by hand, to within a few degrees of level, and touch it far from the middle on both sides",
        )
    if given.sense is None:
        raise InputError(
            "which way the rotary has to turn depends on how it is mounted",
            place=Place(key="--controller"),
            cure="name the controller, whose profile states it: --controller NAME",
        )
    tilt = degrees(atan2(high - low, wide)) * (-1 if given.along == "Y" else 1)
    return Flat(tilt, given.at_deg - given.sense * tilt, degrees(given.uncertainty * sqrt(2) / wide))


def _check(given: Touches) -> None:
    across = ACROSS[given.along]
    if not (given.uncertainty > 0 and given.reading_uncertainty > 0):
        raise InputError(
            "the uncertainty of a touch or reading has to be more than 0", place=Place(key="--touch-error"), cure="for example 0.01 mm"
        )
    for key, axis in [("--sides", each[0]) for each in given.sides] + [("--flip", each[0]) for each in given.flips]:
        if axis not in across:
            raise InputError(
                f"{axis} is not across an axis of rotation along {given.along}",
                place=Place(key=key),
                cure=f"use {' or '.join(across)}",
            )
    if (given.top or given.faces) and given.along == "Z":
        raise InputError("an axis of rotation along Z has no height to find", cure="touch sides in X and in Y")
    if given.top and given.diameter is None:
        raise InputError(
            "the top of a bar gives the axis height only with the bar's diameter",
            place=Place(key="--diameter"),
            cure="measure the bar and give --diameter",
        )
    if given.faces and given.thickness is None:
        raise InputError(
            "two faces give the axis height only with the distance between them",
            place=Place(key="--thickness"),
            cure="measure it and give --thickness",
        )
    for key, size in (("--diameter", given.diameter), ("--thickness", given.thickness), ("--tool", given.tool)):
        if size is not None and not size > 0:
            raise InputError(f"found {size:g}; a size has to be more than 0", place=Place(key=key), cure="give the measured size")
    if given.indicator and given.indicator[1] not in across:
        raise InputError(
            f"an indicator at {given.indicator} cannot show the runout of a bar along {given.along}",
            place=Place(key="--indicator"),
            cure=f"use one of {' '.join(f'+{axis} -{axis}' for axis in across)}",
        )


def _of_the_bar(given: Touches, repeat: list[str]) -> list[Estimate]:
    """Estimates of the bar's own middle, which stands off the axis by its runout."""
    found: list[Estimate] = []
    if given.top:
        touch = touched(given.top, given.uncertainty)
        if touch.spread > 2 * COVERAGE * given.uncertainty:
            repeat.append(f"the {touch.count} touches of the top differ by {touch.spread:.4g}: clean bar and tool, and touch again")
        found.append(top(touch, given.diameter or 0.0, given.diameter_uncertainty))
    for axis, first, second in given.sides:
        pair = touched([first], given.uncertainty), touched([second], given.uncertainty)
        found.append(sides(axis, *pair))
        if given.tool is not None and given.diameter is not None:
            measured, uncertainty = bar_diameter(*pair, given.tool)
            off = measured - given.diameter
            if abs(off) > COVERAGE * hypot(uncertainty, given.diameter_uncertainty):
                repeat.append(
                    f"the sides in {axis} give a bar of {measured:.4f}, but its diameter was given as {given.diameter:.4f} ({off:+.4f}): "
                    "touch both sides again with the same tool, and measure bar and tool"
                )
    return found


def _of_faces(pair: tuple[float, float], given: Touches) -> Estimate:
    at_0, at_180 = (touched([z], given.uncertainty) for z in pair)
    return faces(at_0, at_180, given.thickness or 0.0, given.thickness_uncertainty)


def _runout(given: Touches) -> Runout | None:
    if not given.readings:
        return None
    if len(given.readings) == 1:
        raise InputError(
            "one indicator reading does not show the runout", place=Place(key="--reading"), cure="read at 0 and 180, better at four angles"
        )
    if len(given.readings) == 2:
        return two_readings(given.readings[0], given.readings[1], given.reading_uncertainty)
    radius = given.diameter / 2 if given.diameter is not None else None
    return runout([angle for angle, _ in given.readings], [value for _, value in given.readings], given.reading_uncertainty, radius)


def _less_runout(estimate: Estimate, given: Touches, found: Runout | None, notes: list[str]) -> Estimate:
    """The axis of rotation in place of the bar's middle.

    With n the outward direction of the indicator, n . o = cos W p + sin W q; and since the offset o turns with the part, its component
    along (axis x n) is minus the derivative of that by the part's angle.
    """
    if found is None:
        notes.append("the bar is assumed to run true: check it with indicator readings at 0, 90, 180 and 270 degrees")
        return estimate
    side = given.indicator or INDICATOR[given.along]
    outward = 1.0 if side[0] == "+" else -1.0
    angle = radians(given.at_deg)
    if estimate.axis == side[1]:
        if found.sin is None and abs(sin(angle)) > 1e-6:
            raise InputError(
                f"the bar was touched at {given.at_deg:g} degrees, but the readings give its runout only at 0 and 180",
                place=Place(key="--at"),
                cure="read the indicator at four angles",
            )
        off = found.cos * cos(angle) + (found.sin or 0.0) * sin(angle)
        return _moved(estimate, outward * off, found)
    if found.sin is None:
        notes.append(f"the runout in {estimate.axis} is not known: add indicator readings at 90 and 270 degrees")
        return estimate
    if given.sense is None:
        raise InputError(
            f"which way the runout goes in {estimate.axis} depends on which way the rotary turns",
            place=Place(key="--controller"),
            cure="name the controller, whose profile states it: --controller NAME",
        )
    slope = given.sense * (-found.cos * sin(angle) + found.sin * cos(angle))
    return _moved(estimate, -_right_handed(given.along, side[1], estimate.axis) * outward * slope, found)


def _right_handed(along: str, side: str, other: str) -> int:
    """The sign of `other` in along x side: +1 where the three follow each other as X, Y, Z do."""
    return 1 if (along + side + other) in ("XYZ", "YZX", "ZXY") else -1


def _moved(estimate: Estimate, off: float, found: Runout) -> Estimate:
    how = f"{estimate.how}, runout of {off:+.4f} taken off"
    return Estimate(estimate.axis, estimate.value - off, hypot(estimate.uncertainty, found.uncertainty), how)


def _mean(axis: str, estimates: Sequence[Estimate]) -> Coordinate:
    """The mean weighted by 1 / u^2, the one with the least uncertainty of its own (Gauss; JCGM 100:2008, 5.1.2, from memory)."""
    least = min(each.uncertainty for each in estimates)  # as a unit of the others: the square of a tiny one would be 0
    weights = [(least / each.uncertainty) ** 2 for each in estimates]
    value = sum(w * each.value for w, each in zip(weights, estimates, strict=True)) / sum(weights)
    return Coordinate(axis, value, least / sqrt(sum(weights)), tuple(estimates))


def _differences(estimates: Sequence[Estimate]) -> list[str]:
    """Pairs of estimates that lie farther apart than their uncertainties explain."""
    found = []
    for at, one in enumerate(estimates):
        for other in estimates[at + 1 :]:
            apart = abs(one.value - other.value)
            if apart > COVERAGE * hypot(one.uncertainty, other.uncertainty):
                first = one if one.uncertainty >= other.uncertainty else other
                found.append(
                    f"{one.axis} from '{one.how}' is {one.value:.4f}, from '{other.how}' {other.value:.4f}: {apart:.4f} apart. "
                    f"Repeat both, starting with '{first.how}'"
                )
    return found


def _residuals(given: Touches, found: Runout | None, round_: Circle | None) -> list[str]:
    """Readings and points that do not fit the others."""
    repeat = []
    bound = COVERAGE + 1
    if found is not None and found.largest_at is not None and abs(found.largest) > bound * given.reading_uncertainty:
        off = f"is {found.largest:+.4f} off the circle through all of them"
        if found.count == 4:  # four share one residual, and which of them is wrong cannot be told
            repeat.append(f"the four readings do not fit together, by {abs(found.largest):.4f}: repeat all of them, and add a fifth")
        else:
            repeat.append(f"the reading at {found.largest_at:g} degrees {off}: repeat it; if it stays, the bar is not round there")
    if round_ is not None and round_.count > 3 and abs(round_.largest) > bound * given.uncertainty:
        point = given.points[round_.largest_at]
        off = f"is {round_.largest:+.4f} off the circle through all of them"
        if round_.count == 4:
            repeat.append(f"the four points are not on one circle, by {abs(round_.largest):.4f}: find all of them again, and a fifth")
        else:
            repeat.append(f"the point {point[0]:g}, {point[1]:g} {off}: find the feature there again")
    return repeat
