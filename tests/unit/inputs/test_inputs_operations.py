"""Stretches become operations: long paths."""

import numpy as np
from cl_text import operations_of


def test_long_paths_are_tables() -> None:
    (operation,) = operations_of("RAPID\n" + "".join(f"GOTO/{n},0,5\n" for n in range(500)))
    (block,) = operation["table"].blocks()
    assert [0.0, 1.0] == block["motion"][:2].tolist()
    np.testing.assert_array_equal(np.arange(500), block["x"])


def test_a_text_between_long_paths_names_the_operation_after_it() -> None:
    run = "RAPID\n" + "".join(f"GOTO/{n},0,5\n" for n in range(30_000)) + "RAPID\nGOTO/0,0,50\n"
    found = operations_of(run + "PPRINT second\n" + run)
    assert ["", "second"] == [operation["name"] for operation in found]
    assert 60_002 == sum(len(block["x"]) for operation in found for block in operation["table"].blocks())


def test_a_dwell_between_long_paths_stays_at_its_point() -> None:
    run = "".join(f"GOTO/{n},0,5\n" for n in range(30_000))
    found = operations_of("RAPID\n" + run + "DELAY/0.5\n" + run)
    assert [{"cut": [29999, 0, 5], "feed": 900}, {"dwell": 0.5}] == found[1]["moves"]
    assert 30_001 == sum(len(block["x"]) for block in found[2]["table"].blocks())
