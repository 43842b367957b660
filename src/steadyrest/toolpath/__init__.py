"""The neutral toolpath: frozen models, loading, motion in columns, JSON schema. It knows no controller.

Load with `load_toolpath`, or build in memory with `parse_toolpath` (and `Table.from_columns` for a long path), and go through
`toolpath.operations`, each with its `stream()` of MoveColumns, Holes, Dwell, Stop and Note.
"""

from steadyrest.toolpath.columns import (
    ARC_CLOCKWISE,
    ARC_COUNTERCLOCKWISE,
    CUT,
    CYCLES,
    PLANE_XY,
    PLANE_XZ,
    PLANE_YZ,
    RAPID,
    RUN_LENGTH,
    ArcColumns,
    Dwell,
    Event,
    Hole,
    Holes,
    Item,
    MoveColumns,
    Note,
    Stop,
)
from steadyrest.toolpath.dump import dump_toolpath, toolpath_text
from steadyrest.toolpath.load import load_toolpath, parse_toolpath
from steadyrest.toolpath.model import Operation, Spindle, Toolpath
from steadyrest.toolpath.part import BEYOND, LEAST, Number, Positive
from steadyrest.toolpath.rotary import Indexed, Rotary, Simultaneous, Still, Wrapped
from steadyrest.toolpath.schema import toolpath_schema
from steadyrest.toolpath.stock import Held, RectangularStock, RoundStock, Stock
from steadyrest.toolpath.table import Table
from steadyrest.toolpath.tools import BallTool, BullnoseTool, ChamferTool, DrillTool, FlatTool, Tool

__all__ = [
    "ARC_CLOCKWISE",
    "ARC_COUNTERCLOCKWISE",
    "BEYOND",
    "CUT",
    "CYCLES",
    "LEAST",
    "PLANE_XY",
    "PLANE_XZ",
    "PLANE_YZ",
    "RAPID",
    "RUN_LENGTH",
    "ArcColumns",
    "BallTool",
    "BullnoseTool",
    "ChamferTool",
    "DrillTool",
    "Dwell",
    "Event",
    "FlatTool",
    "Held",
    "Hole",
    "Holes",
    "Indexed",
    "Item",
    "MoveColumns",
    "Note",
    "Number",
    "Operation",
    "Positive",
    "RectangularStock",
    "Rotary",
    "RoundStock",
    "Simultaneous",
    "Spindle",
    "Still",
    "Stock",
    "Stop",
    "Table",
    "Tool",
    "Toolpath",
    "Wrapped",
    "dump_toolpath",
    "load_toolpath",
    "parse_toolpath",
    "toolpath_schema",
    "toolpath_text",
]
