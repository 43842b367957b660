"""What was measured, gathered while the program is gone through: per operation and whole. Lengths are mm here."""

from __future__ import annotations

from dataclasses import dataclass, field

from steadyrest.proof.reach import Reach


@dataclass(slots=True)
class Gathered:
    """One operation's figures while they grow. The two distances and the angle are upper bounds over all points, not samples.

    tip_off_path_mm    the farthest the tip gets from the intended path
    path_off_tip_mm    the farthest the intended path gets from the tip's
    axis_rad           the largest angle between the tool axes
    radius_mm          the largest distance of the tip from the axis of rotation while cutting, which the budget is for
    faster             the largest excess of speed, as a fraction of the feed
    slowed, slowest    how many blocks a limit slows down, and the slowest of them as a fraction of its feed
    last_line          the last line of the program that belongs to it
    turns              how many times the part was turned back or the tool lifted inside a cut
    """

    number: int
    name: str
    intent: str
    tool: int
    tip_off_path_mm: float = 0.0
    path_off_tip_mm: float = 0.0
    axis_rad: float = 0.0
    radius_mm: float = 0.0
    faster: float = 0.0
    slowed: int = 0
    slowest: float = 1.0
    moves: int = 0
    blocks: int = 0
    holes: int = 0
    lifted: int = 0
    last_line: int = 0
    cut_minutes: float = 0.0
    rapid_minutes: float = 0.0
    notes: list[str] = field(default_factory=list)
    reach: Reach = field(default_factory=Reach)
