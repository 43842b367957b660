"""Which codes cannot stand together in one group. One line a rule."""

from __future__ import annotations

import pytest
from profile_parts import Refusal

RULES = {
    "a spindle that starts stops": ('spindle.stop = ""', "spindle.stop", "none to stop it"),
    "coolant that starts stops": ('coolant.off = ""', "coolant.off", "none for off"),
    "cycles end": ('cycles.cancel = ""', "cycles.cancel", "no code to end them"),
    "letters of a cycle differ": ('cycles.peck_letter = "R"', "cycles.peck_letter", "need a letter each"),
    "a length offset has no letter of the tool": ('tool.offset_letter = "T"', "tool.offset_letter", "of the tool and of its length offset"),
    "units need a code or one unit": ('units.mm = ""\nunits.inch = ""', "units.program", "the unit of its programs has to be given"),
    "the one unit has its code": ('units.mm = ""\nunits.program = "mm"', "units.mm", "only a code for the other unit"),
    "a retract has its code": ('retract.machine_code = ""', "retract.machine_code", "needs machine_code"),
}


@pytest.mark.parametrize(("text", "key", "sentence"), RULES.values(), ids=RULES.keys())
def test_what_is_impossible_by_itself_is_refused_by_name(refusal: Refusal, text: str, key: str, sentence: str) -> None:
    error = refusal(text)
    assert key == error.place.key
    assert sentence in error.wrong
