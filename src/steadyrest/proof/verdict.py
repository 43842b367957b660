"""What was found: proved with its figures, or refused with place, distance and likeliest cause; and the line in a program's head."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from steadyrest.columns import Floats
from steadyrest.errors import Place
from steadyrest.findings import Finding

if TYPE_CHECKING:
    from steadyrest.proof.difference import Difference

SCHEMA = 1

MismatchKind = Literal[
    "path", "axis", "order", "missing", "extra", "feed", "dwell", "hole", "tool", "spindle", "coolant", "stop", "clamp", "turn", "rapid",
    "travel", "offset", "mode", "end",
]  # fmt: skip

_RULES: dict[MismatchKind, str] = {
    "path": "off-path cut-elsewhere unknown-place",
    "axis": "tool-axis between-steps",
    "missing": "ends-early",
    "extra": "cuts-on",
    "feed": "feed",
    "dwell": "pause-missing pause-length pause-added spindle-pause clamp-pause",
    "hole": "hole-unfinished hole-aside hole-pause hole-rapid-down hole-rapid-out hole-up hole-feeds-up hole-deep hole-above "
    "peck-out peck-step",
    "tool": "tool tool-stop tool-selected tool-change-low",
    "spindle": "spindle-way spindle-speed spindle-stop-low",
    "coolant": "coolant",
    "stop": "stop-missing stop-in-cut",
    "clamp": "clamp-off clamp-on turn-clamped release-low",
    "turn": "turn-low turn-in-cut backlash",
    "rapid": "rapid-plunge rapid-low",
    "travel": "rotary-travel rotary-speed",
    "mode": "mode path-mode",
    "offset": "length-offset offset-low work-offset lines",
    "end": "no-end ends-on after-end end-low home no-mark",
}
RULES = {name: kind for kind, names in _RULES.items() for name in names.split()}
"""Name of every rule for whose breach a program is refused, to the kind of difference that it is."""

NOT_SEEN = (
    "mistakes in the stated mounting: which way the chuck faces and turns, and where zero is",
    "collisions of tool, holder, part, fixture, chuck and tailstock, also in rapids that the machine does not run straight (dog-leg)",
    "tool lengths, diameters and work offsets in the machine",
    "how far the machine itself leaves the path within a block: corner rounding, backlash, lag",
)
"""What the proof does not see; said wherever the verdict is read (standards of the trade: a read-back proves agreement only)."""

NOT_SEEN_ON_CHAINS = (
    "lines, pivots and gauge lengths that are not the machine's own",
    "collisions of head, spindle and table with each other, and what a control of the tip or of a tilted plane does by itself",
)
"""What it does not see besides where two rotaries turn, or a head."""

CAUTION = "First run above the part, single block, rapid and feed turned down, hand on feed hold."
"""Common practice."""


@dataclass(slots=True)
class OperationFigures:
    """One operation. Lengths in the toolpath's units; distances and angle are upper bounds over the whole path, not samples.

    tip_off_path, path_off_tip   the farthest the tip gets from the intended path, and that path from the tip's
    radius                       the largest distance of the tip from the axis of rotation while cutting
    limit, rounding              what was allowed at `radius`: tolerance plus the rounding of the words there
    axis_off_deg                 the largest angle between tool axes
    axis_off_at_pole_deg         of it the largest near a pole, where the tool axis lies along the line of the first of two rotaries
    faster_percent               the largest excess of tip speed over the feed
    uneven_percent               with two rotaries or a head: the largest rise of the tip's speed, on the way, over the block's mean
    slowed_blocks, slowest_percent   blocks that a limit of the machine or of F holds back, and the slowest of them, percent of its feed
    slowest_lines                the first and the last line of the slowed stretch that it is in; None where nothing is slowed
    last_line                    the last line of the program that belongs to it
    lifted                       how often the tool was lifted out of a cut and came back to it (to turn back)
    lifted_lines                 the lines of the program that leave a cut so
    reach, reach_lines           the lowest and highest place of the tip along the axis of rotation, work coordinates, at feed and at rapid
                                 below the clear height, and the lines that go there; None where nothing does
    """

    number: int
    name: str
    intent: str
    tool: int
    tip_off_path: float = 0.0
    path_off_tip: float = 0.0
    limit: float = 0.0
    rounding: float = 0.0
    radius: float = 0.0
    axis_off_deg: float = 0.0
    axis_off_at_pole_deg: float = 0.0
    axis_limit_deg: float = 0.0
    faster_percent: float = 0.0
    uneven_percent: float = 0.0
    slowed_blocks: int = 0
    slowest_percent: float = 100.0
    slowest_lines: tuple[int, int] | None = None
    moves: int = 0
    blocks: int = 0
    holes: int = 0
    lifted: int = 0
    lifted_lines: list[int] = field(default_factory=list)
    cutting_minutes: float = 0.0
    rapid_minutes: float = 0.0
    reach: tuple[float, float] | None = None
    reach_lines: tuple[int, int] | None = None
    last_line: int = 0

    def widen(self, off: float, radius: float, axis_off_deg: float = 0.0) -> None:
        """Take a cut into account that was so far off its path at most, and so far from the axis of rotation."""
        self.tip_off_path, self.path_off_tip = max(self.tip_off_path, off), max(self.path_off_tip, off)
        self.radius, self.axis_off_deg = max(self.radius, radius), max(self.axis_off_deg, axis_off_deg)


@dataclass(slots=True)
class WholeFigures:
    """The whole program. `extents`: lowest and highest X, Y, Z, work coordinates, the toolpath's units; None where not known.

    rotary_extents_deg, turning_of_deg   with two rotaries or a head, for each of them: the lowest and highest word, and how far it turns
                  in all; empty otherwise
    gauge_lengths  by tool, those that were taken for granted, the toolpath's units; empty unless a head turns
    end_for_end   the chuck stands at the other end than the stock is held at, and the job is turned by half a turn about Z
    """

    lines: int = 0
    tools: tuple[int, ...] = ()
    extents: dict[str, tuple[float, float] | None] = field(default_factory=dict)
    rotary_extent_deg: tuple[float, float] | None = None
    turning_deg: float = 0.0
    rapid_turning_deg: float = 0.0
    fastest_rotary_deg_per_min: float = 0.0
    cutting_minutes: float = 0.0
    rapid_minutes: float = 0.0
    end_for_end: bool = False
    rotary_extents_deg: dict[str, tuple[float, float] | None] = field(default_factory=dict)
    turning_of_deg: dict[str, float] = field(default_factory=dict)
    gauge_lengths: dict[int, float] = field(default_factory=dict)


class Mismatch(Exception):
    """The first thing that differs, by the name of the rule that it breaks.

    `distance_mm` is NaN where no distance says it; `line` 0 where the program has ended.
    """

    def __init__(self, rule: str, sentence: str, *, line: int, distance_mm: float = float("nan"), move: int | None = None) -> None:
        super().__init__(sentence)
        self.rule = rule
        self.kind = RULES[rule]
        self.sentence = sentence
        self.line = line
        self.distance_mm = distance_mm
        self.move = move
        self.edited = False  # whether line and sentence are those of the word that makes the difference
        # Where the tool should be and where it is: X, Y, Z in work coordinates, mm, and the turn, rad; None where nobody has said it yet.
        self.asked: Floats | None = None
        self.found: Floats | None = None


@dataclass(frozen=True, slots=True)
class Failure:
    """The first thing that differs. `place` has the program's line and the toolpath's operation and move; `distance` is None where
    no distance says it, else in the toolpath's units; `cause` is empty when none is likelier than another; `rule` is its name;
    `difference` is what both sides do around it, for whoever shows it: None before the first operation.
    """

    kind: str
    sentence: str
    place: Place
    distance: float | None
    cause: str
    rule: str
    difference: Difference | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """`proved`, or not; figures of every operation that was gone through, wholly or up to the failure.

    findings   what the proof itself has found besides, such as a feed lowered by hand
    """

    proved: bool
    units: str
    tolerance: float
    operations: tuple[OperationFigures, ...]
    whole: WholeFigures
    failure: Failure | None
    notices: tuple[str, ...]
    toolpath_digest: str
    profile_digest: str
    findings: tuple[Finding, ...] = ()

    @property
    def farthest(self) -> float:
        """The largest of all distances, either way, in the toolpath's units."""
        return max((max(one.tip_off_path, one.path_off_tip) for one in self.operations), default=0.0)

    @property
    def not_seen(self) -> tuple[str, ...]:
        """What the proof of this program has not seen."""
        return (*NOT_SEEN, *(NOT_SEEN_ON_CHAINS if self.whole.rotary_extents_deg else ()))

    def to_json(self) -> dict[str, Any]:
        """Plain data for `--json`: lengths in `units`, degrees, minutes. Within one `schema` keys are only ever added."""
        told, failure = None, self.failure
        if failure is not None:
            place = {name: getattr(failure.place, name) for name in ("line", "operation", "operation_name", "angle_deg", "plane", "move")}
            said = {"kind": failure.kind, "rule": failure.rule, "sentence": failure.sentence}
            told = {**said, **place, "distance": failure.distance, "cause": failure.cause or None}
        return {
            "schema": SCHEMA,
            "proved": self.proved,
            "units": self.units,
            "tolerance": self.tolerance,
            "farthest": self.farthest,
            "operations": [asdict(one) for one in self.operations],
            "whole": asdict(self.whole),
            "failure": told,
            "notices": list(self.notices),
            "toolpath_digest": self.toolpath_digest,
            "profile_digest": self.profile_digest,
            "not_seen": list(self.not_seen),
        }

    def text(self) -> str:
        """What was found, in a few lines, without the figures."""
        if self.proved:
            return (
                f"proved: the program cuts what the toolpath asks for, never more than {self.farthest:.4f} {self.units} off "
                f"(tolerance {self.tolerance:g}, the rest is rounding)"
            )
        lines = ["refused: the program does not cut what the toolpath asks for"]
        if (failure := self.failure) is not None:
            lines += [f"  where:  {str(failure.place) or 'the end of the program'}", f"  what:   {failure.sentence}"]
            lines += [f"  off by: {failure.distance:.4f} {self.units}"] if failure.distance is not None else []
            lines += [f"  likely: {failure.cause}"] if failure.cause else []
        return "\n".join(lines)


_FORM = re.compile(r"PROVED TOOLPATH ([0-9A-F]{16}) PROFILE ([0-9A-F]{16})")


def head_line(toolpath_digest: str, profile_digest: str) -> str:
    """The text of the comment: `PROVED TOOLPATH 0123456789ABCDEF PROFILE 0123456789ABCDEF`, the first digits of both.

    Only capitals, digits and spaces: every controller that takes comments takes it. A file's name or a date would make two runs differ.
    """
    return f"PROVED TOOLPATH {toolpath_digest[:16].upper()} PROFILE {profile_digest[:16].upper()}"


def stale(comments: list[str], toolpath_digest: str, profile_digest: str) -> str:
    """What that line, among a program's comments, says of this toolpath and profile; empty when it names both, or there is none."""
    found = next(filter(None, map(_FORM.search, map(str.upper, comments))), None)
    if found is None:
        return ""
    named = {"toolpath": toolpath_digest, "profile": profile_digest}
    other = [f"another version of the {name}" for name, said in zip(named, found.groups(), strict=True) if said != named[name][:16].upper()]
    return f"the head of the program says that it was proved against {' and '.join(other)}: this program is out of date" if other else ""
