"""Which codes cannot stand together in one group. One line a rule."""

from __future__ import annotations

import pytest
from profile_parts import Refusal

RULES = {
    "units need a code or one unit": ('units.mm = ""\nunits.inch = ""', "units.program", "the unit of its programs has to be given"),
}


@pytest.mark.parametrize(("text", "key", "sentence"), RULES.values(), ids=RULES.keys())
def test_what_is_impossible_by_itself_is_refused_by_name(refusal: Refusal, text: str, key: str, sentence: str) -> None:
    error = refusal(text)
    assert key == error.place.key
    assert sentence in error.wrong
