"""The simulation room: the part as a program read back cuts it, what each operation took, and what touched that must not.

A `Simulation` is fed with the items of `steadyrest.reading.read_program`, all at once or one by one. Everything comes from
the program; of the toolpath only the axis of rotation, the stock and the tools are used. Rapids are taken as straight.
"""

from steadyrest.simulation.cut import Cut, Side, Touches, outward
from steadyrest.simulation.field import Field, stock_field
from steadyrest.simulation.history import History
from steadyrest.simulation.quick_look import LEAST_SECONDS, NO_STOCK, SHARE_OF_POST, Hazards, Watch
from steadyrest.simulation.simulation import Simulation, find_walls
from steadyrest.simulation.solid import solid_of
from steadyrest.simulation.walls import PARTS, Walls

__all__ = [
    "LEAST_SECONDS", "NO_STOCK", "PARTS", "SHARE_OF_POST", "Cut", "Field", "Hazards", "History", "Side", "Simulation", "Touches",
    "Walls", "Watch", "find_walls", "outward", "solid_of", "stock_field",
]  # fmt: skip
