"""The words of CL data (ISO 4343, from memory), and what becomes of each: honoured, left out with a notice, or refused."""

from __future__ import annotations

from collections.abc import Collection
from difflib import get_close_matches


def _words(listed: str) -> frozenset[str]:
    return frozenset(listed.split())


HONOURED = _words(
    "AIR CIRCLE CLEARP CLRSRF COOLNT CUTCOM CUTTER CYCLE DELAY DWELL END FEDRAT FINI FROM GODLTA GOHOME GOTO INSERT INTOL LINTOL "
    "LOADTL MULTAX OPSKIP OPSTOP ORIGIN OUTTOL PARTNO PPRINT RAPID RETRCT ROTABL ROTATE ROTHED SPINDL STOP TLAXIS TOLER TOOLNO "
    "TRACUT TRANS UNITS UNLOAD"
)
"""Words that say what is cut, or have an argument that does."""

LITERAL_WORDS = ("PARTNO", "PPRINT", "INSERT", "LETTER")
"""Statements whose text runs to the end of the line, in which `$` and blanks mean themselves."""

FIXED = _words("CIRCLE CYCLE FINI FROM GODLTA GOTO MULTAX RAPID ROTABL ROTATE ROTHED TLAXIS TRANS UNITS")
"""Words that a mapping file cannot give another meaning: the path itself hangs on them."""

HARMLESS = {
    "MACHIN": "the controller is chosen when the program is posted",
    "DISPLY": "it asks for a plot",
    "LEADER": "it asks for blank tape",
    "LETTER": "it asks for readable text on tape",
    "CLPRNT": "it controls a listing",
    "PLABEL": "it controls a listing",
    "SEQNO": "block numbers are a setting of the profile",
    "TMARK": "it marks a block for a restart",
    "REWIND": "how a program ends is a setting of the profile",
    "POSTN": "how small moves are treated is decided in planning",
    "SLOWDN": "slowing down at corners is left to the controller",
    "CHECK": "travel limits are a setting of the profile",
    "LIMIT": "limits of feed and speed are settings of the profile",
    "MCHTOL": "rounding at corners is left to the controller",
    "ARCSLP": "how arcs are written is a setting of the profile",
    "CLAMP": "when the rotary is clamped follows from the intent of each operation and the profile's clamp",
    "SELCTL": "choosing the next tool early is left to the profile",
}
"""Words that say nothing about what is cut, and where that is said instead."""

REFUSED = {
    "COPY": ("it repeats motion under a transform", "let the system that wrote the file resolve it into points"),
    "INDEX": ("it marks motion to be repeated", "let the system that wrote the file resolve it into points"),
    "PREFUN": ("it asks for a raw code of one controller", "put it into the profile, or let a mapping file ignore it"),
    "AUXFUN": ("it asks for a raw code of one controller", "put it into the profile, or let a mapping file ignore it"),
    "TURRET": ("a mill with a rotary has no turret", "use LOADTL, or translate it to LOADTL in a mapping file"),
    "HEAD": ("choosing a head has no meaning here", "let a mapping file ignore it if there is one head only"),
    "COUPLE": ("the spindle cannot be coupled to the feed", "use CYCLE/TAP"),
    "THREAD": ("a thread with the spindle in step is turned, not milled", "mill it with points, or use CYCLE/TAP"),
    "PITCH": ("a lead belongs to thread cutting", "use CYCLE/TAP with PERREV"),
    "MODE": (
        "it changes what later statements mean, in a way that differs between systems",
        "let a mapping file ignore it if it changes nothing",
    ),
    "RESET": ("what it cancels differs between systems", "state feed, spindle and coolant anew, or let a mapping file ignore it"),
    "SAFETY": ("where the safe position is differs between systems", "write RAPID and GOTO, or RETRCT with CLEARP"),
    "SAFPOS": ("where the safe position is differs between systems", "write RAPID and GOTO, or RETRCT with CLEARP"),
}
"""Words that are known and cannot be carried out: why, and the cure."""

PART_PROGRAM = _words(
    "MACRO TERMAC CALL LOOPST LOOPND JUMPTO IF DO READ RESERV POINT LINE PLANE CYLNDR CONE SPHERE VECTOR MATRIX PATERN GO GOFWD "
    "GOBACK GOLFT GORGT GOUP GODOWN INDIRV INDIRP TLLFT TLRGT TLON PSIS POCKET SCURV SSURF"
)
"""Words of the part program, which the processor has to resolve (APT, from memory)."""

KNOWN = HONOURED | HARMLESS.keys() | REFUSED.keys()


def unknown_word(word: str, mapped: Collection[str]) -> tuple[str, str] | None:
    """What is wrong with a major word that neither the standards nor the mapping file know, and the cure; None if it is known."""
    if word in KNOWN or word in mapped:
        return None
    if word in PART_PROGRAM:
        return (
            f"{word} belongs to the part program; CL data holds resolved points only",
            "let the system that wrote the file process it to CL data",
        )
    close = get_close_matches(word, sorted(KNOWN), n=1, cutoff=0.75)
    meant = f"did you mean {close[0]}? If not, " if close else ""
    return (
        f"the word {word} is not known",
        f'{meant}give its meaning in a mapping file, with --words FILE or words = "FILE" in the job file: '
        f'[words.{word}] means = "ignore", or "note", or a statement such as "LOADTL/{{1}}"',
    )
