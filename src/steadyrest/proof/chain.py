"""The proof's own kinematics of a chain of rotaries, from the contract alone: where the tip and the tool axis stand in the part.

Everything is said as the tool moves round a part at rest (ISO 841 names motions so): each rotary turns whatever stands between it and the
spindle, tool included, about its line, by a unit quaternion about a point of that line. Which way follows from what is seen at the machine:
who stands at one end of the line sees what the rotary carries turn; counterclockwise there is right-hand about the direction towards the
eye. Where the rotary carries the tool, that is the turn of the tool; where it carries the part, the tool turns the other way round it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats
from steadyrest.profile import Profile, Rotary, chain_of, direction

UPRIGHT = (0.0, 0.0, 1.0)
"""The tool axis with every rotary at zero."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """The axis of a rotary, every rotary at zero.

    about         (3,) unit vector about which a positive command turns the tool round the part, right-hand
    point         (3,) on it, mm: in work coordinates where it carries the part, else from the tip of the tool
    carries_part  whether it carries the part, else it carries the tool
    """

    letter: str
    about: Floats
    point: Floats
    carries_part: bool


Lines = tuple[Line, ...]
"""Counted from the part to the spindle, as are the columns of all angles: the rotaries' words, rad."""


def lines_of(profile: Profile, centre_mm: Floats, gauge_mm: float) -> Lines:
    """The lines of the chain that a profile states, as they stand.

    centre_mm  (3,) where the chain's reference point lies, work coordinates
    gauge_mm   from the tip of the tool to the gauge line; of no meaning where nothing carries the tool
    """
    chain = chain_of(profile)
    found = []
    for letter in chain.letters if chain is not None else ():
        rotary, carries_part = profile.rotary[letter], chain is not None and letter in chain.part  # type: ignore[index]
        stated = np.array((rotary.point if carries_part else rotary.pivot) or (0.0, 0.0, 0.0))
        point = stated + (centre_mm if carries_part else np.array((0.0, 0.0, gauge_mm)))
        found.append(Line(letter, _turns_tool_about(rotary, carries_part), point, carries_part))
    return tuple(found)


def _turns_tool_about(rotary: Rotary, carries_part: bool) -> Floats:
    towards_eye = np.array(direction(rotary)) * (1.0 if rotary.chuck_faces[0] == "+" else -1.0)
    carried = towards_eye if rotary.positive_turns_chuck == "counterclockwise" else -towards_eye
    return -carried if carries_part else carried


def highest_mm(lines: Lines, centre_mm: Floats, ball_mm: float, edge_mm: float = 0.0) -> float:
    """The height over the centre from which on, by Z alone, the tip is over all of the stock, however the rotaries stand; and the edge of a
    tool of that radius.

    The stock lies in a ball about the centre. The first line takes that centre round its foot on the line, in a circle that may lie
    anyhow; the last takes the foot round its own foot, in a circle that rises by so much as the line does not stand upright. So does the
    first where the last stands upright: that leaves heights as they are. A head takes the tip round likewise, from the spindle outwards:
    with its pivots over the tip it hardly ever comes to be lower than it says.
    """
    carrying = [line for line in lines if line.carries_part]
    place, rise = _taken_round(centre_mm, carrying)
    head, falls = [line for line in reversed(lines) if not line.carries_part], []
    for edge in edge_mm * np.array([(0, 0, 0), (1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0)]):
        at, fall = _taken_round(edge, head)
        falls.append(fall - float(at[2]))
    return float(place[2] - centre_mm[2]) + rise + ball_mm + max(falls)


def _taken_round(place: Floats, lines: list[Line]) -> tuple[Floats, float]:
    """The last foot of a place that lines take round one after the other, and how far from that the place may rise or fall."""
    rise, upright = 0.0, [float(np.hypot(*line.about[:2])) < 1e-9 for line in lines]
    for number, line in enumerate(lines):
        foot = line.point + (place - line.point) @ line.about * line.about
        leans = float(np.hypot(*line.about[:2])) if all(upright[number + 1 :]) else 1.0
        place, rise = foot, rise + float(np.linalg.norm(place - foot)) * leans
    return place, rise


def sizes(vectors: Floats) -> Floats:
    """Lengths (...) of vectors (..., c)."""
    return np.asarray(np.sqrt(np.einsum("...c,...c->...", vectors, vectors)))


def rotated(vectors: Floats, about: Floats, angle_rad: Floats | float) -> Floats:
    """Vectors (..., 3) turned right-hand about a unit vector (3,) by angles (...)."""
    columns = np.ascontiguousarray(vectors.T)
    return _turned(columns, _beside(about, columns), about, *sine_and_versine(np.asarray(angle_rad).T)).T


def sine_and_versine(angle_rad: Floats) -> tuple[Floats, Floats]:
    """Sine and versed sine of angles, by the tangent of half of them."""
    tangent = np.tan(angle_rad / 2)
    sine = 2 * tangent / (1 + tangent * tangent)
    return sine, sine * tangent


def _turned(columns: Floats, beside: Floats, about: Floats, sine: Floats, versine: Floats) -> Floats:
    """Vectors v turned about a unit vector a; of each its x, y and z together (3, ...), which is what the processor likes. beside: a x v.

    q v q* with the unit quaternion q = (w, s a), w and s cosine and sine of half the angle, is v + 2 w s (a x v) + 2 s s a x (a x v).
    """
    out = versine * _beside(about, beside)
    out += sine * beside
    out += columns
    return np.asarray(out)


def _beside(about: Floats, columns: Floats) -> Floats:
    """a x v (3, ...) of vectors v (3, ...)."""
    x, y, z = about.tolist()
    matrix = np.array(((0.0, -z, y), (z, 0.0, -x), (-y, x, 0.0)))
    return (matrix @ columns.reshape(3, -1)).reshape(columns.shape)


def rotation(about: Floats, angle_rad: float) -> Floats:
    """The matrix (3, 3) of a right-hand turn about a unit vector (3,)."""
    return rotated(np.eye(3), about, angle_rad).T


@dataclass(frozen=True, slots=True, eq=False)
class Posed:
    """Where tip (..., 3), mm, and tool axis (..., 3), a unit vector, stand in the part frame; and how far the tip is from each of the r
    lines when it is turned about it (..., r), mm. Each number of theirs is a column by itself in memory.
    """

    tips_mm: Floats
    axes: Floats
    arms_mm: Floats

    def first(self, count: int) -> Posed:
        """Those of the first so many."""
        return Posed(self.tips_mm[:count], self.axes[:count], self.arms_mm[:count])


def posed(lines: Lines, positions_mm: Floats, words_rad: Floats) -> Posed:
    """Of X Y Z (..., 3) and the rotaries' words (..., r)."""
    turns = sine_and_versine(np.ascontiguousarray(words_rad.T))
    tips, beside = _tips(lines, positions_mm, turns)
    return Posed(tips.T, _axes(lines, turns, tips.shape).T, np.stack([sizes(each.T) for each in beside], axis=0).T)


def poses(lines: Lines, positions_mm: Floats, words_rad: Floats) -> tuple[Floats, Floats]:
    """Tips (..., 3), mm, and tool axes (..., 3), unit vectors, in the part frame, of X Y Z (..., 3) and the rotaries' words (..., r)."""
    turns = sine_and_versine(np.ascontiguousarray(words_rad.T))
    tips = _tips(lines, positions_mm, turns)[0]
    return tips.T, _axes(lines, turns, tips.shape).T


def tips_of(lines: Lines, positions_mm: Floats, words_rad: Floats) -> Floats:
    """The tips alone."""
    return _tips(lines, positions_mm, sine_and_versine(np.ascontiguousarray(words_rad.T)))[0].T


def _tips(lines: Lines, positions_mm: Floats, turns: tuple[Floats, Floats]) -> tuple[Floats, list[Floats]]:
    """Tips (3, ...), and of each line its direction times the way from it to the tip when that is turned about it (3, ...)."""
    positions = np.ascontiguousarray(positions_mm.T)
    tips, moved, besides = np.zeros(positions.shape), False, []
    for line, sine, versine in reversed(list(zip(lines, *turns, strict=True))):
        if line.carries_part and not moved:
            tips, moved = tips + positions, True
        point = line.point.reshape(3, *[1] * (tips.ndim - 1))
        rel = tips - point
        besides.append(_beside(line.about, rel))
        tips = _turned(rel, besides[-1], line.about, sine, versine) + point
    return (tips if moved else tips + positions), besides[::-1]


def _axes(lines: Lines, turns: tuple[Floats, Floats], shape: tuple[int, ...]) -> Floats:
    axes = np.array(UPRIGHT).reshape(3, *[1] * (len(shape) - 1))
    for line, sine, versine in reversed(list(zip(lines, *turns, strict=True))):
        axes = _turned(axes, _beside(line.about, axes), line.about, sine, versine)
    return np.broadcast_to(axes, shape)


def angles_between(one: Floats, other: Floats) -> Floats:
    """Angles (...) between unit vectors (..., 3), rad; by the half chord, which keeps all digits of a small one."""
    return np.asarray(2 * np.arcsin(np.minimum(sizes(one - other) / 2, 1.0)))


@dataclass(frozen=True, slots=True)
class Bends:
    """Of k blocks in which X Y Z and the rotaries' words all change evenly and together.

    tip_mm, axis_rad   how far the tip and the tool axis may get, in between, from the straight way between where they begin and end
    radius_mm          the largest distance of the tip from any of the lines
    turn_rad           how far all rotaries together turn
    """

    tip_mm: Floats
    axis_rad: Floats
    radius_mm: Floats
    turn_rad: Floats


def bends(lines: Lines, positions_mm: Floats, words_rad: Floats, arms_mm: Floats) -> Bends:
    """Upper bounds of how far k blocks stray that follow each other, from positions (k + 1, 3), words (k + 1, r) and arms as of `posed`.

    A curve p(u), 0 <= u <= 1, stays within max|p''| / 8 of its chord (error of linear interpolation). Speed v and bend a of a point grow
    from line to line: turned about a line, r away from it, by D in all, it has v + D r and a + 2 D v + D D r at most. About one point that
    comes to D D R + 2 D dx, for the tool axis to D D, D the sum of the turns. r is largest at an end, or a / 8 more in between.
    """
    way = sizes(np.diff(positions_mm, axis=0))
    speed, bend, radius, axis_speed, axis_bend = np.zeros((5, len(way)))
    moved = False
    for number, line in reversed(list(enumerate(lines))):
        if line.carries_part and not moved:
            speed, moved = speed + way, True
        turn, arms = np.abs(np.diff(words_rad[:, number])), arms_mm[:, number]
        arm = np.maximum(arms[:-1], arms[1:]) + bend / 8
        across = turn * arm
        speed, bend = speed + across, bend + turn * (2 * speed + across)
        axis_speed, axis_bend = axis_speed + turn, axis_bend + turn * (2 * axis_speed + turn)
        radius = np.maximum(radius, arm)
    return Bends(bend / 8, axis_bend / 8, radius, axis_speed)
