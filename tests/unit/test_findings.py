"""A finding has a name that is known; and there is no way past a failed proof."""

from __future__ import annotations

import pytest

from steadyrest.findings import ACCEPTABLE, MEANINGS, Finding


def test_a_name_that_says_nothing_in_general_is_a_mistake_of_ours() -> None:
    with pytest.raises(AssertionError, match="no-such-name"):
        Finding("no-such-name", "stop", "something")


def test_everything_but_a_failed_proof_can_be_accepted() -> None:
    assert {"proof"} == set(MEANINGS) - ACCEPTABLE


def test_as_data_its_keys_are_its_fields_also_of_what_comes_of_it() -> None:
    data = Finding("proof", "stop", "one", line=3, consequences=(Finding("plug-in", "look", "two"),)).as_json()
    assert ("proof", "stop", "one", 3, 1, False) == tuple(data[key] for key in ("name", "weight", "sentence", "line", "count", "accepted"))
    assert ["two"] == [each["sentence"] for each in data["consequences"]]
