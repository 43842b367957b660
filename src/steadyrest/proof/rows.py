"""The program's motion, block by block, with everything the checks need to know about each; and the last blocks before a place."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi

import numpy as np

from steadyrest.columns import Bools, Codes, Complexes, Floats, Ints, or_zero
from steadyrest.conventions import INVERSE, LINE, PLANE_AXES, RAPID
from steadyrest.proof.chain import Lines, Posed, posed, tips_of
from steadyrest.proof.geometry import Motions, Stand, between, curve_lengths, tip_length, turned
from steadyrest.proof.setting import Setting, count_of
from steadyrest.reading import ArcsRead, MotionRead


@dataclass(frozen=True, slots=True)
class Rows:
    """n blocks. Positions are work coordinates, mm; `vertex` (n + 1, 3) and `phi` (n + 1,) are before the first and after each.

    With a chain of r rotaries `phi` and `word_deg` are (n + 1, r): what the rotaries' words say, in rad and in degrees.

    minutes   as the F word says, NaN in a rapid
    machine   the least the axes need for the block, minutes
    count     one count of the F word, as a fraction of it
    least     the least time that the largest F allows, minutes
    turning   (k,) the blocks in which the rotary turns, or stands at an angle that is not known
    across, tip   (n + 1,) the vertices across the axis of rotation, in work coordinates and in the part frame; (0,) with a chain
    """

    line: Ints
    motion: Codes
    vertex: Floats
    phi: Floats
    word_deg: Floats
    minutes: Floats
    machine: Floats
    count: Floats
    least: Floats
    feed_word: Floats
    feed_mode: Codes
    clear: Bools
    arcs: ArcsRead | None
    turning: Ints
    across: Complexes
    tip: Complexes
    _posed: list[tuple[Lines, slice, Posed]] = field(default_factory=list, init=False)

    def __len__(self) -> int:
        return len(self.line)

    @property
    def rapid(self) -> Bools:
        """(n,) whether the block is a rapid."""
        return np.asarray(self.motion == RAPID)

    @property
    def stands(self) -> bool:
        """Whether the rotary stands still throughout."""
        return len(self.turning) == 0

    def words_of(self, rotary: int) -> Floats:
        """(n + 1,) the words of one of the rotaries, counted from the part, degrees."""
        return self.word_deg if self.word_deg.ndim == 1 else self.word_deg[:, rotary]

    def stand(self, vertex: int) -> Stand:
        """Where the tool stands at a vertex."""
        x, y, z = self.vertex[vertex].tolist()
        turns = self.phi[vertex]
        return (x, y, z, float(turns)) if self.phi.ndim == 1 else (x, y, z, *turns.tolist())

    def posed(self, lines: Lines, at: slice) -> Posed:
        """With a chain, tips and tool axes at vertices; of the same ones asked for again, or the first of them, kept from before."""
        for lines_before, before, found in self._posed:
            if lines_before is lines and before.start == at.start and before.stop >= at.stop:
                return found.first(at.stop - at.start)
        found = posed(lines, self.vertex[at], self.phi[at])
        self._posed[:] = [(lines, at, found)]
        return found

    def motions(self, along_axis: int, blocks: slice | Ints, turns_off: Floats | float) -> Motions:
        """Some blocks as motions, whole turns `turns_off` taken off; `along_axis` is the coordinate along the axis of rotation."""
        ends = after(blocks)
        along = self.vertex[:, along_axis]
        phi: tuple[Floats, Floats] | Floats | float
        if self.stands:
            phi = self.phi[0] - turns_off
        elif isinstance(turns_off, float) and turns_off == 0.0:
            phi = self.phi[blocks], self.phi[ends]
        else:
            phi = self.phi[blocks] - turns_off, self.phi[ends] - turns_off
        return Motions((along[blocks], along[ends]), (self.across[blocks], self.across[ends]), phi, (self.tip[blocks], self.tip[ends]))


def after(blocks: slice | Ints) -> slice | Ints:
    """The numbers of the vertices at which blocks end, where theirs are those at which they begin."""
    return slice(blocks.start + 1, blocks.stop + 1) if isinstance(blocks, slice) else blocks + 1


_STEPS = 8
"""Stretches of a block that turns, for the length of the tip's way."""


def no_rows(setting: Setting) -> Rows:
    """No blocks: a program before its first motion, at the place where the profile says that it starts, if it does."""
    count = max(len(setting.lines), 1)
    place = setting.profile.program.start_position or (np.nan,) * (3 + count)
    nothing, some, codes, no = np.empty(0), np.empty(0, np.int64), np.empty(0, np.uint8), np.empty(0, np.bool_)
    start, angle = np.array([place[:3]]), np.array([place[3 : 3 + count]])
    return rows_of(MotionRead(some, codes, start, angle, nothing, nothing, codes, no, no, 1.0), setting)


def rows_of(read: MotionRead, setting: Setting, tool: float = np.nan) -> Rows:
    """Motion as the reader gives it, made ready for the checks; `tool` is the number of that in the spindle, all the way."""
    n = len(read)
    vertex = read.vertex_mm
    if setting.rotary is not None and setting.rotary.replaces:
        at = "XYZ".index(setting.rotary.replaces)
        vertex = vertex.copy()
        vertex[:, at] = setting.frame.centre_mm[at]
    word = read.vertex_deg if setting.lines else read.vertex_deg[:, 0] if setting.rotary is not None else np.zeros(n + 1)
    phi = word * (setting.sigma * pi / 180.0)
    way = np.diff(vertex, axis=0)
    turn = np.diff(word, axis=0)
    fastest_mm = np.array(setting.fastest_mm_per_min())
    machine = np.fmax.reduce([np.zeros(n), *(np.abs(way[:, axis]) / speed for axis, speed in enumerate(fastest_mm))])
    for number, rotary in enumerate(setting.rotaries.values()):
        machine = np.fmax(machine, np.abs(turn if turn.ndim == 1 else turn[:, number]) / rotary.fastest)
    minutes = read.minutes
    if setting.profile.feed.per_minute_counts == "tip":
        minutes = _tip_minutes(read, setting, vertex, phi, tool)
    turning = np.flatnonzero(turn if turn.ndim == 1 else turn.any(axis=1))  # NaN counts as turning
    across = np.empty(0, np.complex128) if setting.lines else setting.frame.across(vertex)
    count, least = _feed_words(read, minutes, setting)
    arcs = read.arcs
    if arcs is not None:
        # On its way round the whole speed is now on the one axis of the plane, now on the other.
        bent = np.flatnonzero(read.motion > LINE)
        fastest = fastest_mm[np.array(PLANE_AXES)[arcs.plane[bent]]]
        way_round, rise = arc_ways(vertex, arcs, bent)
        machine[bent] = np.fmax(way_round / fastest[:, :2].min(axis=1), rise / fastest[:, 2])
    return Rows(
        line=read.line,
        motion=read.motion,
        vertex=vertex,
        phi=phi,
        word_deg=word,
        minutes=minutes,
        machine=machine,
        count=count,
        least=least,
        feed_word=read.feed_word,
        feed_mode=read.feed_mode,
        clear=read.clear,
        arcs=arcs,
        turning=turning,
        across=across,
        tip=across if setting.lines else across * turned(-phi if len(turning) else -phi[:1]),
    )


def _tip_minutes(read: MotionRead, setting: Setting, vertex: Floats, phi: Floats, tool: float) -> Floats:
    """Time of the blocks in which F is the speed of the tip over the part while the rotary turns: only who knows the axis can tell, and of
    a head the tool.
    """
    open_rows = np.isnan(read.minutes) & (read.motion == LINE) & (read.feed_mode != INVERSE)
    if not open_rows.any():
        return read.minutes
    return np.where(open_rows, tip_ways(vertex, phi, setting, tool) / (read.feed_word * setting.program_scale), read.minutes)


def tip_ways(vertex: Floats, phi: Floats, setting: Setting, tool: float) -> Floats:
    """How far the tip goes over the part (n,), mm, in straight blocks between vertices as of `Rows`, with the tool of that number."""
    if not setting.lines:
        return tip_length(between(vertex[:, setting.frame.along], setting.frame.across(vertex), phi))
    share = np.linspace(0.0, 1.0, _STEPS + 1)[:, None]
    begin, end = (np.concatenate([vertex, phi], axis=1)[at, None, :] for at in (slice(None, -1), slice(1, None)))
    stands = begin + share * (end - begin)
    return curve_lengths(tips_of(setting.lines_with(tool), stands[..., :3], stands[..., 3:]))


def _feed_words(read: MotionRead, minutes: Floats, setting: Setting) -> tuple[Floats, Floats]:
    feed, numbers = setting.profile.feed, setting.profile.numbers
    inch = setting.program_scale != 1.0
    one, inverse_one = (count_of(setting.profile, "F", form, in_inch=inch) for form in (numbers.feed, numbers.inverse_feed))
    inverse = read.feed_mode == INVERSE
    word = np.abs(read.feed_word)
    with np.errstate(divide="ignore", invalid="ignore"):
        count = np.where(inverse, inverse_one, one) / word
        largest = np.where(inverse, feed.largest_inverse, feed.largest_inch if inch else feed.largest_mm)
        least = minutes * word / largest
        if feed.inverse_is == "seconds":
            least = np.where(inverse, inverse_one / 60, least)
    return np.where(np.isfinite(count), count, 0.0), or_zero(least)


def arms(points: Floats, arcs: ArcsRead, rows: Ints) -> Complexes:
    """Where points (k, 3 or more) lie from the centres of arcs `rows` (k,), in their planes, mm."""
    axes = np.array(PLANE_AXES)[arcs.plane[rows], :2]
    here, centre = (np.take_along_axis(places, axes, axis=1) for places in (points, arcs.centre_mm[rows]))
    return np.asarray((here - centre) @ (1, 1j))


def arc_ways(vertex: Floats, arcs: ArcsRead, rows: Ints) -> tuple[Floats, Floats]:
    """How far arcs `rows` (k,) go round in their planes and along the third axis, mm (k,); they lie between `vertex` (n + 1, 3 or more)."""
    third = np.array(PLANE_AXES)[arcs.plane[rows], 2]
    round_mm = np.abs(arms(vertex[rows], arcs, rows)) * np.abs(arcs.sweep_rad[rows])
    return round_mm, np.abs(vertex[rows + 1, third] - vertex[rows, third])


MOST_RECENT = 256
"""Blocks before a place that are looked at, in its piece and in the one before: an edit may show only some blocks after its line."""
_STILL = 1e-9


@dataclass(frozen=True, slots=True)
class Blocks:
    """k blocks, the last of them the nearest. `begin` and `end` (k, 4): X, Y, Z in work coordinates, mm, and the turn, rad; of a chain
    (k, 3 + r).
    """

    line: Ints
    rapid: Bools
    begin: Floats
    end: Floats

    def setting(self, coordinate: int, stop: int | None = None) -> int | None:
        """The last block, before `stop`, that changed a coordinate; None when none of these did."""
        begin, end = self.begin[:stop, coordinate], self.end[:stop, coordinate]
        changed = np.flatnonzero(~(np.abs(end - begin) <= _STILL) & ~np.isnan(end))
        return int(changed[-1]) if len(changed) else None

    @property
    def link(self) -> int:
        """The first of the rapids at the end; their number where the last block is a cut."""
        cuts = np.flatnonzero(~self.rapid)
        return int(cuts[-1]) + 1 if len(cuts) else 0


def blocks_of(rows: Rows, stop: int) -> Blocks:
    """The last blocks of a run before `stop`, copied."""
    first = max(0, stop - MOST_RECENT)
    points = np.column_stack([rows.vertex[first : stop + 1], rows.phi[first : stop + 1]])
    return Blocks(rows.line[first:stop].copy(), rows.motion[first:stop] == RAPID, points[:-1], points[1:])
