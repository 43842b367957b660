"""How is each mistake of spelling in a statement called: message and cure?"""

from __future__ import annotations

NO_MEANING = "a character that has no meaning here; a statement is WORD or WORD/argument,argument with words and numbers"

BADLY_WRITTEN = "a comma is missing, or a number is badly written; numbers are such as 12.5, -3 or 2.75E-2, with a comma between"
ARITHMETIC = "arithmetic or a nested definition; CL data holds resolved numbers only, so let the system that wrote it resolve them"

CHARACTERS = {"(": ARITHMETIC, "*": ARITHMETIC, "+": BADLY_WRITTEN, "-": BADLY_WRITTEN, ".": BADLY_WRITTEN}
"""Where a character begins no word and no number."""

_AT_FIRST: dict[str, list[str]] = {
    "an argument is missing; write a word or a number between commas, and none after the last": [
        "GOTO/1,",
        "GOTO/,1",
        "GOTO/1,,2",
        "GOTO/A,",
        "GOTO/A,,1",
        "GOTO/,",
        "A)GOTO/1,",
        "GOTO/'A',",
    ],
    BADLY_WRITTEN: [
        "GOTO/1.2.3",
        "GOTO/1-2",
        "GOTO/1+2",
        "GOTO/A-1",
        "GOTO/1A",
        "GOTO/1EX",
        "GOTO/A'B'",
        "GOTO/'A'B",
        "GOTO/'A'1",
    ],
    ARITHMETIC: [
        "GOTO/1/2",
        "GOTO/A/2",
        "GOTO/A=1",
        "GOTO/1=1",
        "GOTO/1,A=1",
        "A=1",
    ],
    "a statement begins with its major word; write it as WORD or WORD/argument,argument": [
        "1",
        "1,2",
        "1/2",
        "/1",
        ",1",
        "-1",
        "=1",
        "'A'",
        "1)1",
        "A)1",
        "A)/",
        "A)",
        ")",
    ],
    "a slash stands between the major word and its arguments; write it as WORD/argument,argument": [
        "GOTO,1",
        "GOTO-1",
        "GOTO.5",
        "GOTO'A'",
        "A)GOTO,1",
        "A)GOTO-1",
    ],
    "a bracket without a beginning; a label stands once, before the major word, as L1)GOTO/x,y,z": [
        "GOTO/1)",
        "GOTO/A)",
        "GOTO/)",
        "A)B)",
        "A)B)GOTO",
        "GOTO/1,)",
    ],
}

MISTAKES = {
    message: examples + [f"GOTO/{before}{each[5:]}" for each in examples if each.startswith("GOTO/") for before in ("0,", "0,0,")]
    for message, examples in _AT_FIRST.items()
}
"""Where a word, number or sign stands in the wrong place: the message, with examples that go wrong so, also behind other arguments."""
