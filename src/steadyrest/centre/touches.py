"""All touches together: the centre of rotation, how sure it is, and what to repeat where they do not agree.

With the axis of rotation along X or Y the centre has a coordinate across the table and a height Z; along Z it has X and Y.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import atan2, cos, degrees, hypot, radians, sin, sqrt

from steadyrest.centre.estimates import Estimate, Fit, circle, middle, runout, touched
from steadyrest.errors import InputError, Place

ACROSS = {"X": ("Y", "Z"), "Y": ("X", "Z"), "Z": ("X", "Y")}
INDICATOR = {"X": "+Z", "Y": "+Z", "Z": "-Y"}
"""Where the indicator rests, unless said: on top; along Z on the side nearest to the operator."""

COVERAGE = 2.0
"""Expanded uncertainty, about 95 percent (JCGM 100:2008, 6.2 and G.6.6; from memory). What lies farther apart does not agree."""


@dataclass(frozen=True, slots=True)
class Touches:
    """What was touched, in one unit and one frame of coordinates.

    uncertainty    of one touch; reading_uncertainty of one indicator reading; size_uncertainty of diameter and thickness; all standard
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
    size_uncertainty: float = 0.0
    diameter: float | None = None
    tool: float | None = None
    top: tuple[float, ...] = ()
    sides: tuple[tuple[str, float, float], ...] = ()
    faces: tuple[tuple[float, float], ...] = ()
    thickness: float | None = None
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

    coordinates   each the mean of its estimates, weighted by their uncertainties
    flat          the angle of a flat, where two places of it were touched
    end           what the coordinate along the axis belongs to, in words; empty where nothing was touched there
    bar_end       the direction in which the end of the bar looks that was touched, such as +X; empty where it was not
    repeat        what does not agree, and what to touch again: while there is anything, the coordinates are not to be used
    notes         what else is worth knowing
    """

    along: str
    coordinates: tuple[Estimate, ...]
    runout: Fit | None
    circle: Fit | None
    repeat: tuple[str, ...]
    notes: tuple[str, ...]
    flat: Flat | None
    end: str
    bar_end: str = ""


def find_centre(given: Touches) -> Centre:
    """The centre of rotation from whatever was touched.

    raises   InputError where something that is needed is missing, or cannot be of this rotary
    """
    _check(given)
    repeat: list[str] = []
    notes: list[str] = []
    off = _runout(given)
    estimates = [_less_runout(each, given, off, notes) for each in _of_the_bar(given, repeat)]
    for at_0, at_180 in given.faces:  # opposite and parallel, each touched when on top: (z0 + z180 - T) / 2
        height = middle("Z", at_0, at_180, given.uncertainty, "two faces, indexed by 180")
        uncertainty = hypot(height.uncertainty, given.size_uncertainty / 2)
        estimates.append(replace(height, value=height.value - (given.thickness or 0.0) / 2, uncertainty=uncertainty))
    estimates += [middle(axis, a, b, given.uncertainty, f"a feature in {axis}, indexed by 180") for axis, a, b in given.flips]
    round_ = circle(given.points, given.uncertainty) if given.points else None
    if round_ is not None:
        found = zip(ACROSS[given.along], round_.values, round_.uncertainties, strict=False)
        estimates += [Estimate(*each, f"circle through {round_.count} points") for each in found]
    end = _along(given, repeat)
    estimates += [end] if end is not None else []
    flat = _flat(given)
    if flat is None and not estimates and off is None:
        raise InputError("nothing was touched", cure="give at least the top of a bar with its diameter, or two sides")
    readings, points = [f"reading at {angle:g} degrees" for angle, _ in given.readings], [f"point {x:g}, {y:g}" for x, y in given.points]
    repeat += _misfit(off, given.reading_uncertainty, readings, "repeat it; if it stays, the bar is not round there")
    repeat += _misfit(round_, given.uncertainty, points, "find the feature there again")
    by_axis = [[each for each in estimates if each.axis == axis] for axis in (*ACROSS[given.along], given.along)]
    repeat += [difference for of_axis in by_axis for difference in _differences(of_axis)]
    coordinates = tuple(_mean(of_axis) for of_axis in by_axis if of_axis)
    end_of = end.how if end is not None else ""
    return Centre(
        given.along,
        coordinates,
        off,
        round_,
        tuple(repeat),
        tuple(dict.fromkeys(notes)),
        flat,
        end_of,
        given.end[0][0] if given.end else "",
    )


def _error(key: str, wrong: str, cure: str) -> InputError:
    return InputError(wrong, place=Place(key=key), cure=cure)


def _several(values: Sequence[float], given: Touches, what: str, cure: str, repeat: list[str]) -> tuple[float, float]:
    spread = max(values) - min(values)
    if spread > 2 * COVERAGE * given.uncertainty:
        repeat.append(f"the {len(values)} touches of the {what} differ by {spread:.4g}: {cure}, and touch again")
    return touched(values, given.uncertainty)


def _along(given: Touches, repeat: list[str]) -> Estimate | None:
    """The bar's end or the chuck's face: half the tool's diameter beside what was read; along Z the tool's end touched, and nothing is."""
    touches = given.end or given.chuck_face
    if not touches:
        return None
    if given.end and given.chuck_face:
        raise _error("--end", "both the bar's end and the chuck's face are given", "find and remember them one at a time")
    side, *others = sorted({side for side, _ in touches})
    if others or side[1] != given.along:
        raise _error(
            "--end" if given.end else "--chuck-face",
            f"the touched face points to {' and '.join([side, *others])}, but the axis of rotation is along {given.along}",
            f"give either +{given.along} or -{given.along}",
        )
    radius = 0.0 if given.along == "Z" or given.tool is None else given.tool / 2
    what = f"{'end of the bar' if given.end else 'face of the chuck'} that looks to {side}"
    mean, uncertainty = _several([value for _, value in touches], given, what, "clean both", repeat)
    return Estimate(given.along, mean - (radius if side[0] == "+" else -radius), uncertainty, what)


def _flat(given: Touches) -> Flat | None:
    """How a flat is tilted, and where the rotary has to stand for it to be level.

    A right-hand turn about +X by t takes (y, z) = (1, 0) to (cos t, sin t); about +Y (x, z) to (cos t, -sin t); about +Z (x, y) to
    (cos t, sin t). phi = sense W, so a tilt t goes when W changes by -sense t.
    """
    if not given.flat:
        return None
    if len(given.flat) != 2:
        raise _error("--flat", "a flat needs exactly two touches", "give --flat ACROSS HEIGHT twice, far apart")
    (first, low), (second, high) = sorted(given.flat)
    wide = second - first
    if wide <= 0 or abs(high - low) >= wide:
        raise _error(
            "--flat",
            f"{given.flat[0][0]:g} {given.flat[0][1]:g} and {given.flat[1][0]:g} {given.flat[1][1]:g} are not two touches of one "
            "nearly level flat",
            "turn the flat up by hand, to within a few degrees of level, and touch it far from the middle on both sides",
        )
    sense = _sense(given, "which way the rotary has to turn depends on how it is mounted")
    tilt = degrees(atan2(high - low, wide)) * (-1 if given.along == "Y" else 1)
    return Flat(tilt, given.at_deg - sense * tilt, degrees(given.uncertainty * sqrt(2) / wide))


def _sense(given: Touches, needed: str) -> int:
    if given.sense is None:
        raise _error("--controller", needed, "name the controller, whose profile states it: --controller NAME")
    return given.sense


def _check(given: Touches) -> None:
    across = ACROSS[given.along]
    if not (given.uncertainty > 0 and given.reading_uncertainty > 0):
        raise _error("--touch-error", "the uncertainty of a touch or reading has to be more than 0", "for example 0.01 mm")
    for key, touches in (("--sides", given.sides), ("--flip", given.flips)):
        if strange := [axis for axis, *_ in touches if axis not in across]:
            raise _error(key, f"{strange[0]} is not across an axis of rotation along {given.along}", f"use {' or '.join(across)}")
    if (given.top or given.faces) and given.along == "Z":
        raise InputError("an axis of rotation along Z has no height to find", cure="touch sides in X and in Y")
    by_side = given.along != "Z" and (given.end or given.chuck_face)
    for needed, key, size, wrong, what in (
        (given.top, "--diameter", given.diameter, "the top of a bar gives the axis height only with the bar's diameter", "the bar"),
        (given.faces, "--thickness", given.thickness, "two faces give the axis height only with the distance between them", "it"),
        (by_side, "--tool", given.tool, "the side of the tool touched, but the tool's diameter is not given", "the tool"),
    ):
        if needed and size is None:
            raise _error(key, wrong, f"measure {what} and give {key}")
        if size is not None and not size > 0:
            raise _error(key, f"found {size:g}; a size has to be more than 0", "give the measured size")
    if given.indicator and given.indicator[1] not in across:
        raise _error(
            "--indicator",
            f"an indicator at {given.indicator} cannot show the runout of a bar along {given.along}",
            f"use one of {' '.join(f'+{axis} -{axis}' for axis in across)}",
        )


def _of_the_bar(given: Touches, repeat: list[str]) -> list[Estimate]:
    """Estimates of the bar's own middle, which stands off the axis by its runout."""
    found: list[Estimate] = []
    diameter = given.diameter or 0.0
    if given.top:  # z - D / 2
        mean, uncertainty = _several(given.top, given, "top", "clean bar and tool", repeat)
        found.append(Estimate("Z", mean - diameter / 2, hypot(uncertainty, given.size_uncertainty / 2), "top of the bar"))
    for axis, first, second in given.sides:
        found.append(middle(axis, first, second, given.uncertainty, f"two sides in {axis}"))
        if given.tool is not None and given.diameter is not None:
            measured = abs(second - first) - given.tool
            if abs(measured - diameter) > COVERAGE * hypot(given.uncertainty, given.uncertainty, given.size_uncertainty):
                repeat.append(
                    f"the sides in {axis} give a bar of {measured:.4f}, but its diameter was given as {diameter:.4f} "
                    f"({measured - diameter:+.4f}): touch both sides again with the same tool, and measure bar and tool"
                )
    return found


def _runout(given: Touches) -> Fit | None:
    if not given.readings:
        return None
    if len(given.readings) == 1:
        raise _error("--reading", "one indicator reading does not show the runout", "read at 0 and 180, better at four angles")
    angles, values = zip(*given.readings, strict=True)
    return runout(angles, values, given.reading_uncertainty, given.diameter / 2 if given.diameter is not None else None)


def _less_runout(estimate: Estimate, given: Touches, found: Fit | None, notes: list[str]) -> Estimate:
    """The axis of rotation in place of the bar's middle.

    With n the outward direction of the indicator, n . o = cos W p + sin W q; and since the offset o turns with the part, its component
    along (axis x n) is minus the derivative of that by the part's angle.
    """
    if found is None:
        notes.append("the bar is assumed to run true: check it with indicator readings at 0, 90, 180 and 270 degrees")
        return estimate
    _, p, *q = found.values
    rests = given.indicator or INDICATOR[given.along]
    side, angle = rests[1], radians(given.at_deg)
    if estimate.axis == side:
        if not q and abs(sin(angle)) > 1e-6:
            raise _error(
                "--at",
                f"the bar was touched at {given.at_deg:g} degrees, but the readings give its runout only at 0 and 180",
                "read the indicator at four angles",
            )
        off = p * cos(angle) + (q[0] * sin(angle) if q else 0.0)
    elif not q:
        notes.append(f"the runout in {estimate.axis} is not known: add indicator readings at 90 and 270 degrees")
        return estimate
    else:
        sense = _sense(given, f"which way the runout goes in {estimate.axis} depends on which way the rotary turns")
        # Along x side is the third axis where the three follow each other as X, Y, Z do, else against it.
        right_handed = 1 if given.along + side + estimate.axis in ("XYZ", "YZX", "ZXY") else -1
        off = -right_handed * sense * (-p * sin(angle) + q[0] * cos(angle))
    off = off if rests[0] == "+" else -off
    how = f"{estimate.how}, runout of {off:+.4f} taken off"
    return Estimate(estimate.axis, estimate.value - off, hypot(estimate.uncertainty, max(found.uncertainties[1:])), how)


def _mean(estimates: Sequence[Estimate]) -> Estimate:
    """The mean weighted by 1 / u^2, the one with the least uncertainty of its own (Gauss; JCGM 100:2008, 5.1.2, from memory)."""
    least = min(each.uncertainty for each in estimates)  # as a unit of the others: the square of a tiny one would be 0
    weights = [(least / each.uncertainty) ** 2 for each in estimates]
    value = sum(w * each.value for w, each in zip(weights, estimates, strict=True)) / sum(weights)
    return Estimate(estimates[0].axis, value, least / sqrt(sum(weights)), parts=tuple(estimates))


def _differences(estimates: Sequence[Estimate]) -> list[str]:
    return [
        f"{one.axis} from '{one.how}' is {one.value:.4f}, from '{other.how}' {other.value:.4f}: {apart:.4f} apart. "
        f"Repeat both, starting with '{(one if one.uncertainty >= other.uncertainty else other).how}'"
        for one, other in combinations(estimates, 2)
        if (apart := abs(one.value - other.value)) > COVERAGE * hypot(one.uncertainty, other.uncertainty)
    ]


def _misfit(fit: Fit | None, uncertainty: float, names: Sequence[str], cure: str) -> list[str]:
    """A reading or point that does not fit the others; where there are four they share one residual, and which is wrong cannot be told."""
    if fit is None or abs(fit.largest) <= (COVERAGE + 1) * uncertainty:
        return []
    if fit.count == 4:
        return [f"the four {names[0].split()[0]}s do not fit together, by {abs(fit.largest):.4f}: repeat all of them, and add a fifth"]
    return [f"the {names[fit.worst]} is {fit.largest:+.4f} off the circle through all of them: {cure}"]
