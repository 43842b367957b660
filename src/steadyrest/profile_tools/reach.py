"""What does a chain of rotaries do, and which sides of a part does it reach? In words, to be compared with the machine before a cut."""

from __future__ import annotations

from math import ceil, floor
from typing import NamedTuple

import numpy as np

from steadyrest.columns import Floats
from steadyrest.motion import Line, lines_of, solutions, tool_axis
from steadyrest.profile import Chain, Profile, Rotary, chain_in_words, chain_of

SIDES = {"+Z": (0, 0, 1), "+X": (1, 0, 0), "-X": (-1, 0, 0), "+Y": (0, 1, 0), "-Y": (0, -1, 0), "-Z": (0, 0, -1)}
"""The sides of a part, by the tool axis that looks at each square on."""
REACHED_DEG = 0.01
TRY_DEG = 90.0
"""What is tried at the machine; less where the travel is shorter."""


class ReachWords(NamedTuple):
    """What is said of one rotary, or of all: by its letter, or `sides`."""

    what: str
    words: str


def reach_in_words(profile: Profile) -> list[ReachWords]:
    """A sentence or two for each rotary of a stated chain, and which sides are reached; nothing where no chain is stated."""
    chain = chain_of(profile)
    if chain is None:
        return []
    lines = lines_of(profile, chain, np.zeros(3), 0.0, 1.0)
    told = []
    for letter, sentence in zip(chain.part + chain.tool[::-1], chain_in_words(profile), strict=True):
        told.append(ReachWords(letter, f"{sentence}; {_tried(profile, chain, lines, letter)}"))
    names = [name for name, axis in SIDES.items() if _reached(np.array([axis], dtype=np.float64), profile, chain, lines)]
    missed = [name for name in SIDES if name not in names]
    words = f"the tool comes square onto the part's sides {', '.join(names) or 'none'}"
    told.append(ReachWords("sides", words + (f"; it does not onto {', '.join(missed)}" if missed else "")))
    return told


def _tried(profile: Profile, chain: Chain, lines: tuple[Line, ...], letter: str) -> str:
    """What its positive command does, the other at zero."""
    at = chain.letters.index(letter)
    word = TRY_DEG
    travel = profile.rotary[letter].travel  # type: ignore[index]
    if travel.kind == "limited" and travel.highest < word:
        word = travel.highest if travel.highest > 0 else max(travel.lowest, -TRY_DEG)
    alpha = np.zeros((1, len(lines)))
    alpha[0, at] = np.deg2rad(lines[at].sign * word)
    axis = tool_axis(alpha, lines)[0]
    if axis[2] > 1 - 1e-9:
        turned = "counterclockwise" if lines[at].sign * word * (-1 if lines[at].carries_part else 1) > 0 else "clockwise"
        return f"at {letter} {word:g} the {'part' if lines[at].carries_part else 'head'} has turned {turned}, seen from above"
    side = "".join(f"{'+' if value > 0 else '-'}{name}" for name, value in zip("XY", axis, strict=False) if abs(value) > 1e-9)
    off_deg = np.degrees(np.arccos(np.clip(axis[2], -1.0, 1.0)))
    return f"at {letter} {word:g} the tool looks at the part from {side}, {off_deg:.4g} degrees off Z"


def _reached(axis: Floats, profile: Profile, chain: Chain, lines: tuple[Line, ...]) -> bool:
    found = solutions(axis, lines)
    if found.miss_rad[0] > np.deg2rad(REACHED_DEG):
        return False
    signs = [line.sign for line in lines]
    free = (bool(found.free[0]), *[False] * len(lines))
    rotaries = [profile.rotary[letter] for letter in chain.letters]  # type: ignore[index]
    words = np.degrees(found.alpha_rad[:, 0] * signs).tolist()
    return any(all(any_will or _may_stand(*pair) for any_will, *pair in zip(free, each, rotaries, strict=False)) for each in words)


def _may_stand(word_deg: float, rotary: Rotary) -> bool:
    """Whether an angle lies on the side that the rotary prefers, and in its travel in some turn."""
    travel, side_deg = rotary.travel, (word_deg + 180.0) % 360.0 - 180.0
    whole = min(abs(side_deg), 180.0 - abs(side_deg)) <= REACHED_DEG
    if rotary.prefer != "either" and not whole and (side_deg > 0) != (rotary.prefer == "positive"):
        return False
    if travel.kind != "limited":
        return True
    return ceil((travel.lowest - word_deg - REACHED_DEG) / 360.0) <= floor((travel.highest - word_deg + REACHED_DEG) / 360.0)
