"""The reading room: a finished program's text, read as the controller would. Its door is `read_program`."""

from __future__ import annotations

from steadyrest.reading.model import EventRead, MotionRead, ProgramItem
from steadyrest.reading.program import read_program

__all__ = ["EventRead", "MotionRead", "ProgramItem", "read_program"]
