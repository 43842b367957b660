"""Planning: a toolpath and a profile become axis motion in columns, and events between.

The door is `plan`; `Motion` and `Event` are what it streams.
"""

from steadyrest.motion.model import Event, HoleRow, Motion, PlanItem, Quantity
from steadyrest.motion.plan import Plan, plan

__all__ = ["Event", "HoleRow", "Motion", "Plan", "PlanItem", "Quantity", "plan"]
