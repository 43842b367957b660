"""Text from outside never becomes code: with comments taken out by a scanner that knows nothing of ours, no trace is left."""

from __future__ import annotations

import re
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from steadyrest.motion.model import Event
from steadyrest.profile import Profile, shared_templates_folder
from steadyrest.writing import write_program

NASTY = st.sampled_from(
    ["x) G0 Z-99 (", "a\nG0 Z-99", "a\r\nM30\n%", "MSG, stop", "m s g,, no", ")(", ";", "%", "\u2028G0", "{{ 1 }}", "\x00\x02\x03", "(("]
)
texts = st.one_of(st.text(max_size=200), NASTY, st.builds("".join, st.lists(NASTY, max_size=4)))


PRINTABLE = "".join(character for character in map(chr, range(32, 127)) if character not in "()%")


def profile(style: str, *, upper_case: bool, characters: str | None, spaces: bool) -> Profile:
    comments: dict[str, Any] = {"style": style, "upper_case": upper_case} | ({} if characters is None else {"characters": characters})
    program = {"comments": comments, "block_numbers": {"use": "every_block"}}
    settings = {"name": "trial", "speaks": "words for the tests of writing", "program": program, "words": {"spaces": spaces}}
    return Profile.model_validate(settings)


def program(text: str, said: Profile) -> str:
    """A program that says a text wherever text from outside can be said."""
    items = [
        Event(
            "program_start",
            facts={
                "name": text,
                "units": "mm",
                "toolpath": text,
                "tools": (text, text),
                "digest": text,
                "mounting": text,
                "turns": text,
                "accepted": text,
                "caution": text,
                "held": text,
                "axis": "X",
                "rotaries": (text,),
                "assumed": (text,),
            },
        ),
        Event("operation_start", 1, facts={"number": 1, "name": text, "intent": "still"}),
        Event("note", 1, facts={"text": text}),
        Event("program_end"),
    ]
    return b"".join(write_program(items, said, [shared_templates_folder()], inch=False, rotary_letters=[])).decode("ascii")


def without_comments(written: str, style: str) -> list[str]:
    """What a controller would carry out: characters outside comments, line by line, empty lines left out."""
    lines = []
    for line in written.split("\n"):
        if style == "semicolon":
            line = line.split(";", 1)[0]
        else:
            kept, inside = "", False
            for character in line:
                if character == "(":
                    assert not inside, "a comment in a comment"
                    inside = True
                elif character == ")":
                    assert inside, "a comment closed that was not open"
                    inside = False
                elif not inside:
                    kept += character
            assert not inside, "a comment left open"
            line = kept
        if line.strip():
            lines.append(line.strip())
    return lines


@given(
    texts,
    st.sampled_from(["parentheses", "semicolon", "none"]),
    st.booleans(),
    st.sampled_from([None, "ABC 019", PRINTABLE]),
    st.booleans(),
)
def test_text_from_outside_leaves_no_trace_outside_comments(
    text: str, style: str, upper_case: bool, characters: str | None, spaces: bool
) -> None:
    said = profile(
        style, upper_case=upper_case, characters=None if characters and set("()") & set(characters) else characters, spaces=spaces
    )
    assert without_comments(program("", said), style) == without_comments(program(text, said), style)


@given(texts)
def test_comments_are_one_line_of_allowed_characters_and_never_a_message(text: str) -> None:
    said = profile("parentheses", upper_case=False, characters=None, spaces=True)
    for comment in re.findall(r"\((.*?)\)", program(text, said)):
        assert set(comment) <= set(said.program.comments.characters)
        assert len(comment) <= said.program.comments.longest
        # NISTIR 6556 section 3.3.4: MSG, in any case with spaces between makes a message of a comment.
        assert not comment.lower().replace(" ", "").startswith("msg,")
