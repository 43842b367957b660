"""The proof room: compares what a program cuts with what the toolpath says, and gives a verdict in figures.

It has its own kinematics, from the contract of frames and signs, and shares nothing with planning and writing but the profile.
"""

from steadyrest.proof.chain import Line, angles_between, poses
from steadyrest.proof.comparison import prove
from steadyrest.proof.difference import TOOL_HERE, Difference, Way
from steadyrest.proof.difference_figures import Figure, angle_text
from steadyrest.proof.geometry import Frame, between, tip_length, turned
from steadyrest.proof.rows import no_rows, rows_of
from steadyrest.proof.setting import Setting, as_mounted, length_text, setting_of, stands_end_for_end
from steadyrest.proof.verdict import (
    CAUTION,
    NOT_SEEN,
    NOT_SEEN_ON_CHAINS,
    RULES,
    SCHEMA,
    Failure,
    MismatchKind,
    OperationFigures,
    Verdict,
    head_line,
)

__all__ = [
    "CAUTION", "NOT_SEEN", "NOT_SEEN_ON_CHAINS", "RULES", "SCHEMA", "TOOL_HERE", "Difference", "Failure", "Figure", "Frame", "Line",
    "MismatchKind", "OperationFigures", "Setting", "Verdict", "Way", "angle_text", "angles_between", "as_mounted", "between", "head_line",
    "length_text", "no_rows", "poses", "prove", "rows_of", "setting_of", "stands_end_for_end", "tip_length", "turned",
]  # fmt: skip
