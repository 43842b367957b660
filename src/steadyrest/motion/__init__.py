"""Planning: a toolpath and a profile become axis motion in columns, and events between.

The door is `plan`; `Motion` and `Event` are what it streams. `sigma` and `planned_feed` command a rotary without a toolpath.
"""

from steadyrest.motion.chain import Line, lines_of, solutions, tip_in_part, tool_axis
from steadyrest.motion.feeds import planned_feed
from steadyrest.motion.kinematics import sigma
from steadyrest.motion.model import Arcs, Event, HoleRow, Kind, Motion, PlanItem, Quantity, motion
from steadyrest.motion.planes import phi_of_plane
from steadyrest.motion.planner import Plan, plan

__all__ = [
    "Arcs",
    "Event",
    "HoleRow",
    "Kind",
    "Line",
    "Motion",
    "Plan",
    "PlanItem",
    "Quantity",
    "lines_of",
    "motion",
    "phi_of_plane",
    "plan",
    "planned_feed",
    "sigma",
    "solutions",
    "tip_in_part",
    "tool_axis",
]
