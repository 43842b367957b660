"""What is the likeliest cause of a difference? Asked once, after a failure, of the failing operation only."""

from __future__ import annotations

from typing import TYPE_CHECKING

from steadyrest.proof.cursor import Cursor
from steadyrest.proof.intended import Pass
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.setting import Setting

if TYPE_CHECKING:
    from steadyrest.proof.following import Follower


def likeliest_cause(mismatch: Mismatch, cursor: Cursor, setting: Setting, this: Pass, follower: Follower) -> str:
    """A sentence, or nothing."""
    return ""
