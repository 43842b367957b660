"""Codes that say what is cut, whatever else a profile says of them: they stand in no safe start, and nobody takes them on trust."""

from __future__ import annotations

CHANGES_WHAT_IS_CUT = {
    "turned, mirrored, scaled, shifted or polar coordinates": ("G7.1 G12.1 G16 G43.* G51 G51.* G52 G53.* G54.* G68 G68.* G107 G112"),
    "curves, threads, pockets and cycles": (
        "G2.* G3.* G5 G6 G6.* G12 G13 G33 G34 G35 G70 G71 G72 G74 G75 G76 G81 G82 G83 G84 G84.* G85 G86 G87 G88 G89"
    ),
    "programs and macros that are called": "G65 G66 G66.* M98 M99 M198",
    "what F means, and which way arcs' centres are counted": "G90.* G95 G96",
}
"""Codes, by what they say (common practice: they mean this at many controllers); G54.* is G54 with any decimal."""

_SWITCHES_WHAT_CUTS = {
    "offsets, coordinates or compensation": (
        "G10 G18 G19 G28 G30 G38.2 G41 G42 G43 G44 G53 G54 G55 G56 G57 G58 G59 G59.1 G59.2 G59.3 G92 G92.1 G92.2 G92.3 M60"
    ),
    "motion, tool, spindle, stop or end": "G0 G1 G2 G3 M0 M1 M2 M3 M4 M6 M13 M14 M30",
}
"""The same by NISTIR 6556, and M13 and M14 by ISO 1056: where a profile has a code of its own for one of them, that one is meant."""


def says_what_is_cut(code: str) -> str:
    """What a code like G68.2 says of the cut; empty where it says nothing of the kind."""
    names = {code, code.split(".")[0] + ".*"} if "." in code else {code}
    return next((what for what, named in CHANGES_WHAT_IS_CUT.items() if names & set(named.split())), "")


def acts(code: str) -> str:
    """What a code does that may neither be taken on trust nor stand in a safe start; empty where it does nothing of the kind."""
    return says_what_is_cut(code) or next((what for what, named in _SWITCHES_WHAT_CUTS.items() if code in named.split()), "")
