"""What a controller's own language says, a program from elsewhere says with the same words."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_reading_fast_and_slow import (
    COLUMNS,
    PROFILES,
    arcs_body,
    body,
    column,
    head,
    mixed_arcs_body,
    plain_body,
    rotary_letter,
    start,
    tail,
)

from steadyrest.errors import ProgramError
from steadyrest.profile import Profile
from steadyrest.reading import EventRead, Lenient, MotionRead, read_program

NAMES = ("rs274ngc", "incremental", "counts-numbered", "inverse-seconds")


def taken(text: bytes, dialect: Profile, lenient: Lenient | None) -> tuple[list[EventRead], list[MotionRead]]:
    items = list(read_program(text, dialect, lenient=lenient))
    # Modes are told of the own language alone, which also needs no more than one cycle's event for like holes on neighbouring lines.
    events = [one for one in items if isinstance(one, EventRead) and one.kind not in ("mode", "cycle")]
    return events, [one for one in items if isinstance(one, MotionRead)]


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=80, deadline=None)
@given(first=start, lines=st.one_of(body, plain_body, arcs_body, mixed_arcs_body))
def test_what_is_right_for_the_controller_is_the_same_from_elsewhere(name: str, first: str, lines: list[str]) -> None:
    text = (head(name) + "\n".join([first, *lines, tail(name)])).replace("A", rotary_letter(name)).encode()
    try:
        events, runs = taken(text, PROFILES[name], None)
    except ProgramError:
        return
    other_events, other_runs = taken(text, PROFILES[name], Lenient())
    assert [(one.line, one.kind, one.text) for one in events] == [(one.line, one.kind, one.text) for one in other_events]
    for key in COLUMNS:
        np.testing.assert_array_equal(column(runs, key), column(other_runs, key), err_msg=key)
