"""Which positions can be left out of a drawing of a very long program, and how far off is it then?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.proof import Frame
from steadyrest.report.track import Track

MOST_POSITIONS = 150_000
FIRST_OFF_MM = 0.001
WORST_OFF_MM = 1000.0


def thinned(track: Track, frame: Frame, sense: int, most: int = MOST_POSITIONS) -> Track:
    """At most some `most` positions. Every other one is left out where the way without it stays close, in passes that get coarser.

    Measured over the part and in work coordinates alike; ends of rapids, of operations and places that are not known are kept.
    `off_mm` of the result bounds how far any position left out is from the drawn path.
    """
    kept = np.arange(len(track))
    part, off, limit = track.part_mm(frame, sense), 0.0, FIRST_OFF_MM
    while len(kept) > most and limit <= WORST_OFF_MM:
        middle = np.arange(1, len(kept) - 1, 2)
        here, before, after = kept[middle], kept[middle - 1], kept[middle + 1]
        alike = _same(track, here, before) & _same(track, here, after)
        gone = alike & (_off(part, before, here, after) <= limit) & (_off(track.place_mm, before, here, after) <= limit)
        if gone.sum() < 0.02 * len(kept):
            limit *= 2
            if not gone.any():
                continue
        off += limit
        stays = np.ones(len(kept), dtype=bool)
        stays[middle[gone]] = False
        kept = kept[stays]
    if len(kept) == len(track):
        return track
    return replace(
        track,
        line=track.line[kept],
        place_mm=track.place_mm[kept],
        word_deg=track.word_deg[kept],
        minutes=track.minutes[kept],
        rapid=track.rapid[kept],
        known=track.known[kept],
        operation=track.operation[kept],
        tool=track.tool[kept],
        tip_mm_per_min=track.tip_mm_per_min[kept],
        rotary_deg_per_min=track.rotary_deg_per_min[kept],
        off_mm=off,
    )


def _same(track: Track, one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.bool_]:
    return np.asarray(
        (track.rapid[one] == track.rapid[other])
        & (track.known[one] == track.known[other])
        & (track.operation[one] == track.operation[other])
    )


def _off(points: Floats, before: NDArray[np.int64], here: NDArray[np.int64], after: NDArray[np.int64]) -> Floats:
    """Distance (k,) of points from the straight lines between those before and after."""
    start, way = points[before], points[after] - points[before]
    rel = points[here] - start
    length = np.einsum("kc,kc->k", way, way)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip(np.nan_to_num(np.einsum("kc,kc->k", rel, way) / length), 0.0, 1.0)
    gap = rel - share[:, None] * way
    return np.asarray(np.sqrt(np.einsum("kc,kc->k", gap, gap)), dtype=np.float64)
