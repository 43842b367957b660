"""The line of one rotary, the others at zero, from a ball that stands on the table: its centre is found at three angles or more.

A rotary that carries the part takes the ball round its line, c being a point on that and b where the ball stands at zero. One that carries
the tool takes the tip round its line, which lies at v from the tip at zero, and the ball stands still at b: X Y Z then put the tip on it at
x = b - v + R v. In both cases what is read is x = a + R(sense W) v, with a on the line of a table, and v on that of a head. The angles are
known, so across the line this is linear in a and v: linear least squares (JCGM 100:2008, 5.1.2 and H.3, for its uncertainty; from memory).
Along the line all readings are alike; where they are not the line leans from its stated direction by a small d, and they change by
-d . R v, which is linear as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, hypot
from typing import Any

import numpy as np

from steadyrest.centre.estimates import WORST_CONDITION, Fit, fitted
from steadyrest.centre.touches import COVERAGE
from steadyrest.columns import Floats
from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.errors import InputError, Place
from steadyrest.profile import Profile, axis_in_words, chain_of, direction
from steadyrest.reading import sigma

WIDE_DEG = 120.0
"""Over so wide an arc the readings tell where the line points; over less an error of touching looks like a lean (our own choice)."""

NARROWEST = 25.0
"""Condition of the equations across the line: three angles within 11 degrees have it, and an error of touching grows by seven."""

MIRRORED = 0.2
"""Readings that turned the other way leave so much less over where the rotary's positive turn is stated the wrong way round."""


@dataclass(frozen=True, slots=True)
class BallTouches:
    """A ball found at angles of one rotary, the others at zero, all in one unit and one frame of coordinates.

    balls          commanded angle, degrees, and X Y Z of the axes with the tip at the ball's centre; Z may be nan where the line is along Z
    uncertainty    of one coordinate of a centre, standard
    reference      where the chain's reference point lies in the same coordinates; of a head of no meaning
    gauge_length   of a head: from the point of the probe that the coordinates are of to the gauge line
    """

    balls: tuple[tuple[float, float, float, float], ...]
    uncertainty: float = 0.01
    reference: tuple[float, float, float] = (0.0, 0.0, 0.0)
    gauge_length: float | None = None


@dataclass(frozen=True, slots=True)
class FoundLine:
    """The line of a rotary with all rotaries at zero.

    key           `point` of a rotary in the table, from the reference point; `pivot` of one in the head, from the gauge point
    place         (3,) of the point on it that is nearest to the spindle's axis through that; along Z the one at its height
    uncertainty   (3,) standard
    fit           of the equations across the line: its residuals, two for each ball
    lean_deg      by how much it leans from its stated direction, X Y Z, and the standard uncertainty; None where the arc is too narrow
    repeat        what does not agree: while there is anything, the line is not to be used
    """

    letter: str
    axis: str
    key: str
    place: tuple[float, float, float]
    uncertainty: tuple[float, float, float]
    fit: Fit
    lean_deg: tuple[tuple[float, float, float], float] | None
    repeat: tuple[str, ...]


def find_line(profile: Profile, letter: str, given: BallTouches) -> FoundLine:
    """The line of a rotary of a stated chain.

    raises   InputError for too few angles, angles too close together, or a head without the gauge length
    """
    rotary, chain = profile.rotary[letter], chain_of(profile)  # type: ignore[index]
    in_head = chain is not None and letter in chain.tool
    if in_head and given.gauge_length is None:
        wrong = f"{letter} turns the head, and its pivot counts from the gauge point"
        raise InputError(wrong, place=Place(key="--gauge-length"), cure="measure the probe, and give --gauge-length")
    along = np.array(direction(rotary))
    first, second = _across(along)
    angle_deg, places = np.array([each[0] for each in given.balls]), np.array([each[1:] for each in given.balls]).reshape(-1, 3)
    if not (given.uncertainty > 0 and np.isfinite(angle_deg).all()):
        raise InputError("an angle is no number, or the error of a touch is not above 0", cure="for example 0.01 mm")
    sense = sigma(rotary.chuck_faces, rotary.positive_turns_chuck)
    heights = places @ along if np.isfinite(places).all() else None
    if heights is None and (not np.isfinite(places[:, :2]).all() or hypot(*along[:2]) > 0):
        wrong = f"a place of the ball is no number; only of a rotary along Z its height is not needed, and {letter} is along {rotary.along}"
        raise InputError(wrong, place=Place(key="--ball"), cure="give X, Y and Z of the ball's centre at each angle")
    flat = np.nan_to_num(places) @ np.column_stack([first, second])
    turned = np.radians(sense * angle_deg)
    fit = _fit(turned, flat, given.uncertainty)
    repeat = _misfits(fit, given, angle_deg, _fit(-turned, flat, given.uncertainty), letter)
    lean = None
    if heights is not None:
        lean, rough = _leaning(turned, heights, fit, given.uncertainty, (first, second), angle_deg)
        repeat += rough
    a, v = (np.array(fit.values[at : at + 2]) for at in (0, 2))
    across = np.column_stack([first, second])
    nearest = _nearest(along)
    origin = np.array([0.0, 0.0, given.gauge_length or 0.0]) if in_head else np.array(given.reference)
    place = nearest @ (across @ (v if in_head else a) - origin)
    sure = fit.uncertainties[2 if in_head else 0] * np.sqrt(((nearest @ across) ** 2).sum(axis=1))
    x, y, z = (place + 0.0).tolist()
    u, w, q = sure.tolist()
    return FoundLine(letter, axis_in_words(rotary), "pivot" if in_head else "point", (x, y, z), (u, w, q), fit, lean, tuple(repeat))


def _across(along: Floats) -> tuple[Floats, Floats]:
    """Two directions square to a line and to each other, right-hand with it."""
    first = np.cross(np.eye(3)[int(np.argmin(np.abs(along)))], along)
    first = first / np.linalg.norm(first)
    return first, np.cross(along, first)


def _nearest(along: Floats) -> Floats:
    """(3, 3) that takes any point of a line to the one nearest to the Z axis; of a line along Z, to the one at Z 0."""
    level = np.array([along[0], along[1], 0.0])
    square = float(level @ level)
    toward = level / square if square > 1e-18 else np.array([0.0, 0.0, 1.0 / along[2]])
    return np.asarray(np.eye(3) - np.outer(along, toward))


def _fit(turned: Floats, flat: Floats, uncertainty: float) -> Fit:
    """a (2) and v (2) of x = a + R v, from angles (n,) in radians and places across the line (n, 2)."""
    cos, sin, one, none = np.cos(turned), np.sin(turned), np.ones_like(turned), np.zeros_like(turned)
    slopes = np.stack([np.column_stack([one, none, cos, -sin]), np.column_stack([none, one, sin, cos])], axis=1).reshape(-1, 4)
    if len(turned) < 3 or np.linalg.cond(slopes) > NARROWEST:
        raise InputError(
            "the ball was found at too few angles, or too close together, to find the line",
            place=Place(key="--ball"),
            cure="find it at three angles or more, as far apart as the rotary and the probe allow",
        )

    def equations(solved: Floats) -> tuple[Floats, Floats]:
        return slopes, flat.reshape(-1) - slopes @ solved

    return fitted(equations, np.zeros(4), uncertainty)


def _misfits(fit: Fit, given: BallTouches, angle_deg: Floats, mirrored: Fit, letter: str) -> list[str]:
    if abs(fit.largest) <= (COVERAGE + 1) * given.uncertainty:
        return []
    if mirrored.residual_rms < MIRRORED * fit.residual_rms:
        return [f"the places fit a turn the other way: what the profile says of a positive {letter} is wrong; run the turn check first"]
    at = f"the ball at {angle_deg[fit.worst // 2]:g} degrees does" if len(angle_deg) > 3 else "the three places do"
    return [f"{at} not fit, by {abs(fit.largest):.4f}: find it again there; are all other rotaries at 0, and does the ball stand fast?"]


def _leaning(
    turned: Floats, heights: Floats, fit: Fit, uncertainty: float, across: tuple[Floats, Floats], angle_deg: Floats
) -> tuple[tuple[tuple[float, float, float], float] | None, list[str]]:
    """How much the line leans where the arc is wide; and what does not fit along it."""
    v = np.array(fit.values[2:])
    sorted_deg = np.sort(angle_deg % 360)
    arc = 360 - float(np.diff(np.append(sorted_deg, sorted_deg[0] + 360)).max())
    cos, sin = np.cos(turned), np.sin(turned)
    round_ = np.column_stack([cos * v[0] - sin * v[1], sin * v[0] + cos * v[1]])
    radius = float(hypot(*v))
    slopes = np.column_stack([np.ones_like(turned), -round_ / max(radius, uncertainty)])
    if arc < WIDE_DEG or radius <= COVERAGE * uncertainty or np.linalg.cond(slopes) > WORST_CONDITION:
        return None, []

    def equations(solved: Floats) -> tuple[Floats, Floats]:
        return slopes, heights - slopes @ solved

    found = fitted(equations, np.zeros(3), uncertainty)
    lean = np.degrees((found.values[1] * across[0] + found.values[2] * across[1]) / radius)
    x, y, z = lean.tolist()
    rough = []
    if abs(found.largest) > (COVERAGE + 1) * uncertainty:
        wrong = f"along the line the ball at {angle_deg[found.worst]:g} degrees is off by {abs(found.largest):.4f}: find it again there"
        rough.append(wrong)
    return ((x, y, z), degrees(max(found.uncertainties[1:]) / radius)), rough


def line_text(found: FoundLine, units: str) -> str:
    """One screen: the place with how sure it is, what is left over, and what the profile then states."""
    n = found.fit.count // 2
    head = "THE PLACES DO NOT AGREE: do not use these numbers yet" if found.repeat else f"the line of {found.letter} about {found.axis}"
    lines = [head, *(f"  repeat: {each}" for each in found.repeat)]
    whence = "the gauge point" if found.key == "pivot" else "the reference point"
    lines.append(f"  from {whence}, all rotaries at 0, by a ball at {n} angles:")
    for axis, value, sure in zip(AXES, found.place, found.uncertainty, strict=True):
        fixed = sure < 1e-12
        lines.append(f"  {axis} {value:.4f} {units}   " + ("any" if fixed else f"within {COVERAGE * sure:.4f} (about 95 percent)"))
    lines.append(f"  left over: {found.fit.residual_rms:.4f} {units} in the mean, {abs(found.fit.largest):.4f} at worst")
    if found.lean_deg is None:
        lines.append(f"  where it points was not found: that needs an arc of {WIDE_DEG:g} degrees, and the ball well off the line")
    else:
        lean, sure = found.lean_deg
        said = ", ".join(f"{axis} {value:+.4f}" for axis, value in zip(AXES, lean, strict=True) if abs(value) > 1e-9)
        lines.append(f"  it leans from its stated direction by {said or '0'} degrees, within {COVERAGE * sure:.4f}: 0.01 is 0.017 on 100")
    return "\n".join(lines)


def line_setting(found: FoundLine, units: str) -> tuple[str, list[float]]:
    """The setting of the profile that says the line: its dotted key, and X Y Z in mm, to a tenth of a micrometre; `units`: of `found`."""
    mm = 1.0 if units == "mm" else MM_PER_INCH
    return f"rotary.{found.letter}.{found.key}", [round(each * mm, 4) + 0.0 for each in found.place]


def line_data(found: FoundLine, units: str, *, stated: bool) -> dict[str, Any]:
    """The same as data, with what is left over; uncertainties are standard ones. `stated`: whether a profile states the line at all."""
    key, value = line_setting(found, units) if stated and not found.repeat else (None, None)
    lean, sure = found.lean_deg or (None, None)
    return {
        "rotary": found.letter,
        "axis": found.axis,
        "units": units,
        "agrees": not found.repeat,
        "from": "gauge point" if found.key == "pivot" else "reference point",
        "place": {axis: {"value": each, "uncertainty": u} for axis, each, u in zip(AXES, found.place, found.uncertainty, strict=True)},
        "setting": key,
        "value_mm": value,
        "angles": found.fit.count // 2,
        "left_over": {"mean": found.fit.residual_rms, "worst": abs(found.fit.largest)},
        "lean": lean and {"deg": dict(zip(AXES, lean, strict=True)), "uncertainty_deg": sure},
        "repeat": list(found.repeat),
    }
