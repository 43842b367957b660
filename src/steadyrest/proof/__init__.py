"""The proof room: compares what a program cuts with what the toolpath says, and gives a verdict in figures.

It has its own kinematics, from the contract of frames and signs, and shares nothing with planning and writing but the profile.
"""

from steadyrest.proof.head_line import HeadLine, head_line, read_head_line
from steadyrest.proof.prove import prove
from steadyrest.proof.verdict import NOT_SEEN, SCHEMA, Failure, OperationFigures, Verdict, WholeFigures

__all__ = [
    "NOT_SEEN",
    "SCHEMA",
    "Failure",
    "HeadLine",
    "OperationFigures",
    "Verdict",
    "WholeFigures",
    "head_line",
    "prove",
    "read_head_line",
]
