"""The simulation room: the part as a program read back cuts it, what each operation took, and what touched that must not.

`simulate` takes the items of `steadyrest.reading.read_program`, or a `Simulation` is fed with them one by one. Everything comes from
the program; of the toolpath only the axis of rotation, the stock and the tools are used. Rapids are taken as straight.
"""

from steadyrest.simulation.field import Field, stock_field
from steadyrest.simulation.hazards import LEAST_SECONDS, NO_STOCK, SHARE_OF_POST, Hazards, Watch
from steadyrest.simulation.result import Comparison, Cut, Extents, OperationCut, Touches, Undercuts, compare
from steadyrest.simulation.simulate import Simulation, simulate

__all__ = [
    "LEAST_SECONDS",
    "NO_STOCK",
    "SHARE_OF_POST",
    "Comparison",
    "Cut",
    "Extents",
    "Field",
    "Hazards",
    "OperationCut",
    "Simulation",
    "Touches",
    "Undercuts",
    "Watch",
    "compare",
    "simulate",
    "stock_field",
]
