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
    RADIUS_TOLERANCE,
    RAPID,
    RUN_LENGTH,
    ArcColumns,
    Dwell,
    Hole,
    Holes,
    Item,
    MoveColumns,
    Note,
    Stop,
)
from steadyrest.toolpath.model import Operation, Toolpath, load_toolpath, parse_toolpath, toolpath_schema, toolpath_text
from steadyrest.toolpath.parts import (
    BEYOND,
    BallTool,
    BullnoseTool,
    ChamferTool,
    DrillTool,
    FlatTool,
    Held,
    Indexed,
    Number,
    One,
    Part,
    Point,
    Positive,
    RectangularStock,
    RoundStock,
    Stock,
    Tool,
    Wrapped,
    broken_rule,
)
from steadyrest.toolpath.scan import open_file
from steadyrest.toolpath.table import Table

__all__ = [
    "ARC_CLOCKWISE", "ARC_COUNTERCLOCKWISE", "BEYOND", "CUT", "CYCLES", "PLANE_XY", "PLANE_XZ", "PLANE_YZ",
    "RADIUS_TOLERANCE", "RAPID", "RUN_LENGTH", "ArcColumns", "BallTool", "BullnoseTool", "ChamferTool",
    "DrillTool", "Dwell", "FlatTool", "Held", "Hole", "Holes", "Indexed", "Item", "MoveColumns", "Note",
    "Number", "One", "Operation", "Part", "Point", "Positive", "RectangularStock", "RoundStock", "Stock", "Stop",
    "Table", "Tool", "Toolpath", "Wrapped", "broken_rule", "load_toolpath", "open_file", "parse_toolpath",
    "toolpath_schema", "toolpath_text",
]  # fmt: skip
