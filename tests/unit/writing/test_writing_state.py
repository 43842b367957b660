"""What is written once more because the controller or the operator may have changed it; how blocks are numbered and counted."""

from __future__ import annotations

from writing_parts import NAN, profile, rows, writing, written

from steadyrest.conventions import RAPID
from steadyrest.motion import Event, Quantity


def test_axes_are_stated_again_after_a_stop_and_not_after_a_pause() -> None:
    run, again = rows([(0, 0, 5, 0)]), rows([(1, 0, 5, 0)])
    pause = Event("dwell", 1, words={"time": Quantity("P", 0.5, "dwell")})
    stop = Event("stop", 1, facts={"optional": False})
    assert "X1" == written([run, Event("note", 1, facts={"text": "hold"}), again], profile())[-1]
    assert ["G4 P0.5", "X1"] == written([run, pause, again], profile())[-2:]
    assert "X1" == written([run, Event("coolant_off", 1), again], profile())[-1]
    assert "G94 G1 X1 Y0 Z5 A0 F100" == written([run, stop, again], profile())[-1]


def test_z_is_stated_again_after_a_retract_in_machine_coordinates() -> None:
    retract = Event("retract", 1, facts={"form": "machine_zero"}, words={"machine_z": Quantity("Z", 0, "length")})
    run = rows([(0, 0, 5, 0)])
    lines = written([run, retract, rows([(1, 0, NAN, NAN)], RAPID, NAN), rows([(1, 0, 5, 0)])], profile())
    assert ["G0 X1 Y0", "G94 G1 Z5 A0 F100"] == lines[-2:]


def test_every_block_is_numbered_and_counting_starts_again_after_the_largest() -> None:
    numbers = {"use": "every_block", "first": 98, "step": 1, "digits": 4, "largest": 99}
    said = profile(program={"block_numbers": numbers})
    assert ["N0098", "N0099", "N0098"] == [line.split()[0] for line in written([rows([(i, 0, 0, 0) for i in range(3)])], said)]


def test_only_the_first_block_of_an_operation_is_numbered() -> None:
    said = profile(program={"block_numbers": {"use": "operations"}})
    start = Event("operation_start", 1, facts={"number": 1, "name": "slot", "intent": "still"})
    lines = written([start, rows([(0, 0, 0, 0), (1, 0, 0, 0)]), start, rows([(2, 0, 0, 0)])], said)
    assert ["(operation 1 slot)", "N10 G94 G1 X0 Y0 Z0 A0 F100", "X1", "(operation 1 slot)", "N20 X2"] == lines


def test_lines_are_counted() -> None:
    one = writing([rows([(i % 3, 0, 0, 0) for i in range(20_000)])], profile())
    assert one.lines == 0
    assert b"".join(one).count(b"\n") == one.lines == 20_000
