"""Kinematics of a chain of rotaries: where the tip stands in the part, which angles give a tool axis, and where the linear axes then stand.

Rotaries are counted from the part to the spindle. Rotary i turns the tool relative to the part by alpha_i, right-hand about its line,
whether it carries the part or the tool (ISO 841 names motions for a tool that moves round a part at rest). With T_i the turn about line i,
R_i its rotation, k rotaries that carry the part and x the commanded X Y Z:

    tip in the part frame       p = T_1 .. T_k (x + T_k+1 .. T_n 0)
    tool axis in the part       t = R_1 .. R_n (0, 0, 1)

The lines of rotaries that carry the part are in work coordinates, those of rotaries that carry the tool relative to the tip at zero.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.motion.kinematics import sigma
from steadyrest.profile import Chain, Profile, direction

SPINDLE = np.array([0.0, 0.0, 1.0])
BOTH = 2
POLE_RAD = 1e-9
"""A tool axis that leans less from the line of the first rotary leaves that rotary free."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """The axis of a rotary, every rotary at zero.

    direction    (3,) its + direction, a unit vector
    point        (3,) a point on it; of one that carries the tool relative to the tip
    sign         alpha = sign times the commanded angle
    carries_part whether it carries the part; else it carries the tool
    """

    direction: Floats
    point: Floats
    sign: int
    carries_part: bool


Lines = Sequence[Line]


def lines_of(profile: Profile, chain: Chain, centre: Floats, gauge_length: float, mm: float) -> tuple[Line, ...]:
    """The lines of a chain as they stand, lengths in program units.

    centre         (3,) where the chain's reference point lies, work coordinates
    gauge_length   from the tip of the tool to the gauge line; of no meaning where nothing carries the tool
    mm             program units per millimetre
    source         design, two rotary axes, section 2: alpha is g W of a rotary that carries the tool and -g W of one that carries the part,
                   g being the sense of turning of `sigma`
    """
    found = []
    for letter in chain.letters:
        rotary = profile.rotary[letter]  # type: ignore[index]
        table = letter in chain.part
        offset = np.array((rotary.point if table else rotary.pivot) or (0.0, 0.0, 0.0)) * mm
        point = centre + offset if table else offset + gauge_length * SPINDLE
        found.append(Line(np.array(direction(rotary)), point, -sigma(rotary) if table else sigma(rotary), table))
    return tuple(found)


def rotated(vectors: Floats, axis: Floats, alpha_rad: Floats | float) -> Floats:
    """Vectors (n, 3) turned about a direction (3,) by angles (n,), right-hand; by Rodrigues' formula; about X, Y, Z in four products."""
    alpha = np.asarray(alpha_rad)
    half = np.tan(alpha / 2)  # of many angles at once in a fifth of the time of sine and cosine, to as many digits
    share = 1 / (1 + half * half)
    cos, sin = (1 - half * half) * share, 2 * half * share
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    out = np.moveaxis(np.empty((3, *np.broadcast_shapes(vectors.shape[:-1], alpha.shape))), 0, -1)  # column by column in memory
    square = np.flatnonzero(axis)
    if len(square) == 1 and abs(axis[square[0]]) == 1.0:
        along = int(square[0])
        first, second = (along + 1) % 3, (along + 2) % 3
        sin = sin * axis[along]
        u, v = vectors[..., first], vectors[..., second]
        out[..., along], out[..., first], out[..., second] = vectors[..., along], u * cos - v * sin, u * sin + v * cos
        return out
    i, j, k = axis.tolist()
    along_axis = (x * i + y * j + z * k) * (1.0 - cos)
    out[..., 0] = x * cos + (j * z - k * y) * sin + i * along_axis
    out[..., 1] = y * cos + (k * x - i * z) * sin + j * along_axis
    out[..., 2] = z * cos + (i * y - j * x) * sin + k * along_axis
    return out


def about_line(points: Floats, line: Line, alpha_rad: Floats | float) -> Floats:
    """Points (n, 3) turned about a line by angles (n,), right-hand."""
    return line.point + rotated(points - line.point, line.direction, alpha_rad)


def tool_axis(alpha_rad: Floats, lines: Lines) -> Floats:
    """Tool axes (n, 3), unit vectors in the part frame, at angles (n, r)."""
    axes = np.broadcast_to(SPINDLE, (len(alpha_rad), 3))
    for line, alpha in zip(reversed(lines), alpha_rad.T[::-1], strict=True):
        axes = rotated(axes, line.direction, alpha)
    return axes


def swing(alpha_rad: Floats, lines: Lines) -> Floats:
    """Where the tip stands relative to where it would stand with the head at zero, (n, 3), at angles (n, r)."""
    tips = np.zeros((len(alpha_rad), 3))
    for line, alpha in zip(reversed(lines), alpha_rad.T[::-1], strict=True):
        if not line.carries_part:
            tips = about_line(tips, line, alpha)
    return tips


def tip_in_part(xyz: Floats, alpha_rad: Floats, lines: Lines) -> Floats:
    """Tips (n, 3) in the part frame, of linear axes (n, 3) and angles (n, r)."""
    tips = xyz + swing(alpha_rad, lines)
    for line, alpha in zip(reversed(lines), alpha_rad.T[::-1], strict=True):
        if line.carries_part:
            tips = about_line(tips, line, alpha)
    return tips


def linear_axes(tips: Floats, alpha_rad: Floats, lines: Lines) -> Floats:
    """X Y Z (n, 3) that put the tip at tips (n, 3) of the part frame, at angles (n, r)."""
    places = tips
    for line, alpha in zip(lines, alpha_rad.T, strict=True):
        if line.carries_part:
            places = about_line(places, line, -alpha)
    return places if all(line.carries_part for line in lines) else np.asarray(places - swing(alpha_rad, lines))


@dataclass(frozen=True, slots=True, eq=False)
class Solutions:
    """The angles that give n tool axes.

    alpha_rad   (s, n, r) of the s solutions, one for each rotary; in no particular turn. Two with two rotaries, else one
    toward_rad  (n,) of the first rotary half way between its solutions: without what each adds to it; 0 without a rotary
    miss_rad    (n,) by how much an axis is out of reach; its angles then give the nearest that is
    free        (n,) the axis lies along the first rotary's line: that angle may be any
    """

    alpha_rad: Floats
    toward_rad: Floats
    miss_rad: Floats
    free: Bools


def solutions(axes: Floats, lines: Lines) -> Solutions:
    """All angles that give tool axes (n, 3), unit vectors in the part frame, in closed form; for chains of no, one and two rotaries.

    source    the spherical triangle of first line, second line and spindle. It is the second of the Paden-Kahan subproblems, R1 R2 z = t
              (Murray, Li, Sastry 1994, from memory). beta lies between spindle and second line, gamma between the lines, theta between axis
              and first line, A is the angle at the second line and B that at the first. Half angles keep all digits where the axis lies
              along the first line, and need no sine of theta's: with p = cos(beta - gamma) - cos theta, q = cos theta - cos(beta + gamma),
              tan^2(A / 2) = p / q and tan B = sqrt(p q) / (sin gamma sin(gamma - beta) + p cos gamma)
    """
    n, first = len(axes), lines[0].direction if lines else SPINDLE
    u, v, w = _across_and_along(axes, first)
    round_first, across = np.arctan2(v, u), u * u + v * v
    free = across < POLE_RAD**2
    if len(lines) < BOTH:
        cos_beta, sin_beta, start = lies(SPINDLE, first)
        miss = np.abs(np.arctan2(np.sqrt(across), w) - math.atan2(sin_beta, cos_beta))
        toward = round_first - start if lines else np.zeros(n)
        return Solutions(np.repeat(toward[None, :, None], len(lines), axis=2), toward, miss, free & bool(lines))
    second = lines[1].direction
    (cos_beta, sin_beta, at_zero), (cos_gamma, sin_gamma, round_second) = (lies(each, second) for each in (SPINDLE, first))
    small, upward = across / (1 + np.abs(w)), w >= 0  # of 1 - cos theta and 1 + cos theta the smaller
    all_upward = bool(upward.all())
    near, far = (small, 2 - small) if all_upward else (np.where(upward, small, 2 - small), np.where(upward, 2 - small, small))
    nearer = near - ((cos_beta - cos_gamma) ** 2 + (sin_beta - sin_gamma) ** 2) / 2
    farther = far - ((cos_beta + cos_gamma) ** 2 + (sin_beta - sin_gamma) ** 2) / 2
    miss = np.zeros(n)
    if len(out := np.flatnonzero(np.minimum(nearer, farther) < 0)):
        theta, beta, gamma = np.arctan2(np.sqrt(across[out]), w[out]), math.atan2(sin_beta, cos_beta), math.atan2(sin_gamma, cos_gamma)
        miss[out] = np.maximum(0.0, np.maximum(abs(beta - gamma) - theta, theta - min(beta + gamma, 2 * np.pi - beta - gamma)))
        nearer, farther = (np.clip(each, 0.0, 2 * sin_beta * sin_gamma) for each in (nearer, farther))
    root_nearer, root_farther = np.sqrt(nearer), np.sqrt(farther)
    at_second = 2 * np.arctan2(root_nearer, root_farther)
    level = sin_gamma * (sin_gamma * cos_beta - cos_gamma * sin_beta) + cos_gamma * nearer
    if not all_upward:  # the same in exact numbers; near the other end of the line it keeps its digits
        level = np.where(upward, level, sin_gamma * (sin_gamma * cos_beta + cos_gamma * sin_beta) - cos_gamma * farther)
    at_first = np.arctan2(root_nearer * root_farther, level)
    nearest, toward = round_second - at_zero, round_first - lies(second, first)[2]
    alpha = np.empty((2, 2, n)).swapaxes(1, 2)
    np.add(toward, at_first, out=alpha[0, :, 0])
    np.subtract(toward, at_first, out=alpha[1, :, 0])
    np.add(nearest, at_second, out=alpha[0, :, 1])
    np.subtract(nearest, at_second, out=alpha[1, :, 1])
    return Solutions(alpha, toward, miss, free)


def lies(vector: Floats, about: Floats) -> tuple[float, float, float]:
    """How much of a vector (3,) is along a direction (3,) and how much across it, and how far round it points, radians, right-hand.

    Of a unit vector the first two are cosine and sine of how far it leans. The last counts from a direction that is always the same.
    """
    u, v, w = (float(each[0]) for each in _across_and_along(vector[None], about))
    return w, math.hypot(u, v), math.atan2(v, u)


def _across_and_along(vectors: Floats, about: Floats) -> tuple[Floats, Floats, Floats]:
    """The parts of vectors (n, 3) in two directions square to a direction (3,), and in that: (n,) each."""
    u, v, w = (vectors @ each for each in (*_square_to(*about.tolist()), about))
    return u, v, w


@lru_cache(maxsize=64)
def _square_to(x: float, y: float, z: float) -> tuple[Floats, Floats]:
    """Two directions (3,) square to one, and to each other, right-hand: from the first azimuths are counted."""
    about = np.array([x, y, z])
    start = np.cross(about, np.eye(3)[int(np.argmin(np.abs(about)))])
    start = start / np.linalg.norm(start)
    return start, np.cross(about, start)
