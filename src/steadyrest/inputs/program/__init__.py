"""Plain three-axis programs: the door is the reader `PROGRAM`."""

from steadyrest.inputs.program.reader import PROGRAM

__all__ = ["PROGRAM"]
