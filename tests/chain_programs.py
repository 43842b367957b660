"""Programs for machines with two rotaries, written word by word from the angles and positions that `motion.chain` works out.

They are as plain as can be: each move is one block, each link goes up to the machine's own zero, turns, goes over the place and comes down.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import LINE
from steadyrest.motion.chain import Lines, linear_axes, lines_of, solutions
from steadyrest.profile import Profile, chain_of
from steadyrest.proof import Verdict, prove
from steadyrest.toolpath import Indexed, Operation, Toolpath, parse_toolpath


def turning(axis: str, **more: Any) -> dict[str, Any]:
    return {"along": axis, "chuck_faces": f"+{axis}", "positive_turns_chuck": "clockwise", **more}


HEAD = "G17 G40 G49 G80\nG21 G90 G94\nG54\nG53 G0 Z0\nT1 M6\nG0 G43 H1 Z400\nG53 G0 Z0 S1000 M3\n"
TAIL = "G53 G0 Z0\nM5\nM9\nM30\n"

C_ON_A = {"chain": "part C A bed spindle", "rotary": {"C": turning("Z"), "A": turning("X", point=[0, 0.12, 48])}}
LEANING = {
    "chain": "part C B bed spindle",
    "rotary": {"C": turning("Z"), "B": turning("Z", leans={"towards": "+Y", "by": 45}, point=[0.1, -0.3, 60])},
}
HEAD_AND_TABLE = {"chain": "part C bed B spindle", "rotary": {"C": turning("Z"), "B": turning("Y", pivot=[0, 0.05, 150])}}
TWO_IN_HEAD = {"chain": "part bed C A spindle", "rotary": {"C": turning("Z"), "A": turning("X", pivot=[0, -0.04, 170])}}
GAUGE = {1: 128.35}


def machine(chain: dict[str, Any] = C_ON_A, **groups: Any) -> Profile:
    """NIST's language, four decimals, inverse time where a rotary turns."""
    base: dict[str, Any] = {
        "name": "hand",
        "speaks": "the language of NISTIR 6556, written by hand",
        "program": {"start_mark": "", "end_mark": ""},
        "feed": {"inverse_code": "G93", "rotary": "inverse", "combined": "inverse"},
        "numbers": {"length": {"decimals": 4}, "angle": {"decimals": 4}, "inverse_feed": {"decimals": 4}},
        **chain,
    }
    return Profile.model_validate({**base, **groups})


PLANES = [
    {"origin": [10, 0, 30], "z": [1, 0, 1]},
    {"origin": [0, 12, 30], "z": [0.2, 0.9, 0.7], "x": [1, 0, -2 / 7]},
]
MOVES: list[dict[str, Any]] = [
    {"rapid": [0, 0, 60]},
    {"rapid": [0, 0, 2]},
    {"cut": [0, 0, -1], "feed": 200},
    {"cut": [8, 0, -1], "feed": 500},
    {"cut": [8, 6, -2], "feed": 500},
    {"rapid": [8, 6, 60]},
]


def part(operations: list[dict[str, Any]], **more: Any) -> Toolpath:
    """A round bar of 40, upright, 40 high, its foot at the centre of the table."""
    usual = {"tool": 1, "spindle": {"rpm": 1000, "turns": "clockwise"}}
    data: dict[str, Any] = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "axis": "Z",
        "centre": [1, 2, 3],
        "stock": {"shape": "round", "diameter": 40, "from": 0, "to": 40},
        "tools": [{"number": 1, "shape": "ball", "diameter": 6, "cutting_length": 14}],
        "operations": [usual | operation for operation in operations],
        **more,
    }
    return parse_toolpath(data)


def planes(moves: list[dict[str, Any]] | None = None, where: list[dict[str, Any]] | None = None, **more: Any) -> Toolpath:
    return part([{"rotary": {"intent": "indexed", "planes": where or PLANES}, "moves": moves or MOVES}], **more)


def bowl(rows: int = 40, **operation: Any) -> Toolpath:
    """A simultaneous cut whose tool axis leans by 20 to 40 degrees and goes round."""
    moves: list[dict[str, Any]] = []
    for k in range(rows + 1):
        u = k / rows
        lean, around = np.radians(20 + 20 * u), np.radians(200 * u - 80)
        axis = [np.sin(lean) * np.cos(around), np.sin(lean) * np.sin(around), np.cos(lean)]
        tip = [12 * np.cos(around) * (1 - 0.3 * u), 12 * np.sin(around), 30 + 3 * u]
        moves.append({"cut": tip, "tool_axis": axis, "feed": 600})
    out = np.array(moves[-1]["cut"]) + 60 * np.array(moves[-1]["tool_axis"])
    moves.append({"rapid": out.tolist(), "tool_axis": moves[-1]["tool_axis"]})
    return part([{"rotary": {"intent": "simultaneous"}, "moves": moves, **operation}])


@dataclass
class Written:
    """A program on its way: `change` may spoil the words (X, Y, Z and the rotaries, degrees) of a block that cuts, by its number."""

    profile: Profile
    centre: Floats
    which: int = 0
    change: Callable[[int, Floats], Floats] = lambda number, words: words
    gauge: float = GAUGE[1]
    tip_feed: bool = False  # F is the speed of the tip, also where a rotary turns
    text: list[str] = field(default_factory=list)
    blocks: int = 0
    words: Floats | None = None

    @property
    def lines(self) -> Lines:
        chain = chain_of(self.profile)
        assert chain is not None
        return lines_of(self.profile, chain, self.centre, self.gauge, 1.0)

    def turned(self, axis: Floats) -> Floats:
        """The angles alpha (r,) of the solution for a tool axis, nearest to those before."""
        signs = np.array([line.sign for line in self.lines])
        alpha = solutions(axis[None], self.lines).alpha_rad[self.which, 0]
        near = np.zeros(len(signs)) if self.words is None else np.radians(self.words[3:]) * signs
        return np.asarray(alpha + 2 * np.pi * np.round((near - alpha) / (2 * np.pi)))

    def words_of(self, tip: Floats, axis: Floats) -> Floats:
        alpha = self.turned(axis)
        signs = np.array([line.sign for line in self.lines])
        return np.concatenate([linear_axes(tip[None], alpha[None], self.lines)[0], np.degrees(alpha * signs)])

    def say(self, words: Floats, letters: str = "XYZR") -> str:
        names = chain_of(self.profile).letters  # type: ignore[union-attr]
        said = [f"{letter}{value:.4f}" for letter, value in zip("XYZ", words, strict=False) if letter in letters]
        if "R" in letters:
            said += [f"{letter}{value:.4f}" for letter, value in zip(names, words[3:], strict=True)]
        return " ".join(said)

    def link(self, tip: Floats, axis: Floats, above: float = 60.0) -> None:
        """Up to the machine's own zero, turned, over a place `above` the tip along the tool axis, and down to it."""
        words = self.words_of(tip + above * axis, axis)
        self.text += ["G53 G0 Z0", f"G0 {self.say(words, 'R')}", f"G0 {self.say(words, 'XY')}", f"G0 {self.say(words, 'Z')}"]
        self.words = words

    def rapid(self, tip: Floats, axis: Floats) -> None:
        words = self.words_of(tip, axis)
        self.text.append(f"G0 {self.say(words, 'XYZ')}")
        self.words = words

    def cut(self, tip: Floats, axis: Floats, feed: float, before: Floats | None) -> None:
        words = self.change(self.blocks, self.words_of(tip, axis))
        self.blocks += 1
        turns = self.words is not None and np.abs(words[3:] - self.words[3:]).max() > 1e-9
        if turns and before is not None and not self.tip_feed:
            way = float(np.linalg.norm(tip - before))
            if way < 1e-6:  # the tool turns about its tip: the way of the axes stands in
                way = float(np.linalg.norm(words[:3] - self.words[:3]))  # type: ignore[index]
            self.text.append(f"G93 G1 {self.say(words)} F{feed / way:.4f}")
        else:
            self.text.append(f"G94 G1 {self.say(words, 'XYZR' if turns else 'XYZ')} F{feed:g}")
        self.words = words

    def program(self) -> str:
        return HEAD + "\n".join(self.text) + "\nG94\n" + TAIL


def written(toolpath: Toolpath, profile: Profile | None = None, **options: Any) -> Written:
    """The program of a toolpath in planes or simultaneous, each move a block."""
    maker = Written(profile or machine(), np.array(toolpath.centre, dtype=float), **options)
    for operation in toolpath.operations:
        for points, axes, kinds, feeds in _passes(operation):
            before = None
            for point, axis, kind, feed in zip(points, axes, kinds, feeds, strict=True):
                if before is None:
                    maker.link(point, axis, 60.0 if kind else 0.0)
                    if kind:
                        maker.cut(point, axis, feed, None)
                elif kind == LINE:
                    maker.cut(point, axis, feed, before)
                else:
                    maker.rapid(point, axis)
                before = point
    return maker


def _passes(operation: Operation) -> Iterator[tuple[Floats, Floats, Any, Floats]]:
    columns = list(operation.stream())
    for one in operation.rotary.planes or () if isinstance(operation.rotary, Indexed) else (None,):
        for run in columns:
            points = run.end if one is None else run.end @ one.axes.T + np.array(one.origin)  # type: ignore[union-attr]
            axes = run.tool_axis if one is None else np.broadcast_to(one.axes[:, 2], points.shape)  # type: ignore[union-attr]
            yield points, axes / np.linalg.norm(axes, axis=1)[:, None], run.kind, run.feed  # type: ignore[union-attr, operator]


def verdict(text: str, toolpath: Toolpath, profile: Profile | None = None, **options: Any) -> Verdict:
    return prove(text.encode(), toolpath, profile or machine(), **options)
