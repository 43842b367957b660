"""The reading room: a finished program's text, read as the controller would. Its door is `read_program`.

`Foreign` says that a program comes from elsewhere and only what it cuts is wanted.
"""

from __future__ import annotations

from steadyrest.reading.foreign import Foreign
from steadyrest.reading.model import EventRead, MotionRead, ProgramItem
from steadyrest.reading.program import read_program
from steadyrest.reading.text import opened_program

__all__ = ["EventRead", "Foreign", "MotionRead", "ProgramItem", "opened_program", "read_program"]
