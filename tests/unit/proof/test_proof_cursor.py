"""What is kept of the blocks behind: the way of an arrival."""

from __future__ import annotations

import pytest
from proof_parts import HEAD, ONTO, TAIL, profile, toolpath

from steadyrest.proof.cursor import Cursor
from steadyrest.proof.setting import setting_of
from steadyrest.reading import pieces, read_program


@pytest.mark.parametrize("at_once", [1, 2, 4])
def test_the_way_of_an_arrival_counts_from_the_last_change_of_direction_however_many_blocks_are_taken_at_once(at_once: int) -> None:
    controller = profile()
    program = read_program((HEAD + "G0 A-5\nA-10\nA-2\nA0\n" + TAIL).encode(), controller, rotary_letter="A")
    cursor = Cursor(pieces(program), setting_of(toolpath(ONTO), controller, None, None))
    while cursor.ahead() == "rows" and not abs(cursor.place(1)[3]) > 0:
        cursor.advance(1)  # the head
    for _ in range(0, 4, at_once):
        cursor.advance(at_once)
    assert 10 == cursor.arrival_deg()
