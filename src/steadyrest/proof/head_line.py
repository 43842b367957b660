"""The line in a program's head that says what it was proved against, and what an older line still says."""

from __future__ import annotations

import re
from dataclasses import dataclass

_DIGITS = 16
_FORM = re.compile(r"PROVED TOOLPATH ([0-9A-F]{16}) PROFILE ([0-9A-F]{16})")


@dataclass(frozen=True, slots=True)
class HeadLine:
    """The first sixteen digits of the two digests, in capitals."""

    toolpath: str
    profile: str


def head_line(toolpath_digest: str, profile_digest: str) -> str:
    """The text of the comment: `PROVED TOOLPATH 0123456789ABCDEF PROFILE 0123456789ABCDEF`.

    Only capitals, digits and spaces: every controller that takes comments takes it. A file's name or a date would make two runs differ.
    """
    return f"PROVED TOOLPATH {_short(toolpath_digest)} PROFILE {_short(profile_digest)}"


def read_head_line(comments: list[str]) -> HeadLine | None:
    """The line as found among the comments of a program; None when none of them is one."""
    for comment in comments:
        found = _FORM.search(comment.upper())
        if found:
            return HeadLine(found.group(1), found.group(2))
    return None


def stale(found: HeadLine | None, toolpath_digest: str, profile_digest: str) -> str:
    """What the line says about this toolpath and profile, as a sentence; empty when it names them both, or there is none."""
    if found is None:
        return ""
    other = []
    if found.toolpath != _short(toolpath_digest):
        other.append("another version of the toolpath")
    if found.profile != _short(profile_digest):
        other.append("another version of the profile")
    if not other:
        return ""
    return f"the line in the program's head says that it was proved against {' and '.join(other)}: the program is stale"


def _short(digest: str) -> str:
    return digest[:_DIGITS].upper()
