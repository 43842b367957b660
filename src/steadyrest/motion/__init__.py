"""Planning: a toolpath and a profile become axis motion in columns, and events between.

The door is `plan`; `AxisRun` and `Event` are what it streams.
"""

from steadyrest.motion.model import AxisRun, Event, HoleRow, PlanItem, Quantity
from steadyrest.motion.plan import Plan, plan

__all__ = ["AxisRun", "Event", "HoleRow", "Plan", "PlanItem", "Quantity", "plan"]
