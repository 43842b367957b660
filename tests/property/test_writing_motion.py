"""Motion read back by a few lines that carry out one block after the other stands where it was asked to, block for block."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.conventions import INVERSE, LINE, RAPID
from steadyrest.motion.model import Event, Motion
from steadyrest.profile import Profile, shared_templates_folder
from steadyrest.writing import write_program

place = st.floats(-50, 50).map(lambda v: round(v, 4))
given_place = st.one_of(place, place, st.just(0.0), st.just(float("nan")))
row = st.tuples(
    given_place, given_place, given_place, given_place, st.sampled_from([RAPID, LINE]), st.sampled_from([0, 1]), st.floats(0.5, 900)
)
step = st.one_of(st.lists(row, min_size=1, max_size=12), st.just("stop"), st.just("note"))
words = st.fixed_dictionaries(
    {
        "repeat_motion": st.booleans(),
        "repeat_axes": st.sampled_from(["", "X", "XYZA"]),
        "repeat_feed": st.booleans(),
        "spaces": st.booleans(),
    }
)
NO_CYCLES = dict.fromkeys(("drill", "dwell_drill", "peck", "tap", "bore"), "")


def profile(said: dict[str, Any], *, steps: bool) -> Profile:
    rotary = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", "unwinding": {"at_end": "zero"}}
    settings: dict[str, Any] = {
        "name": "trial",
        "speaks": "words for the tests of writing",
        "words": said | ({"distance": "incremental"} if steps else {}),
        "feed": {"per_minute_code": "G94", "inverse_code": "G93"},
        "rotary": {"A": rotary},
        "retract": {"form": "height"},
        "cycles": NO_CYCLES,
        "codes": {"work_offset": ""},
        "tool": {"length_offset": "", "cancel_offset": ""},
    }
    return Profile.model_validate(settings | ({"program": {"start_position": [0, 0, 0, 0]}} if steps else {}))


def run_of(some: list[tuple[float, ...]]) -> Motion:
    table = np.array(some)
    motion = table[:, 4].astype(np.uint8)
    feed = np.where(motion == RAPID, np.nan, table[:, 6])
    mode, move, tip = table[:, 5].astype(np.uint8), np.arange(len(some)), np.zeros(len(some))
    return Motion(motion, table[:, :3].copy(), table[:, 3:4].copy(), feed, move, tip, mode, operation=1, rule="cut")


def carried_out(text: str, *, steps: bool) -> list[tuple[Any, ...]]:
    """Motion, mode, F and place after each block, as a controller with modal words has them."""
    at = dict.fromkeys("XYZA", 0.0 if steps else math.nan)
    motion = mode = feed = None
    blocks = []
    for line in text.splitlines():
        found = re.findall(r"([A-Z])([-+.\d]+)", re.sub(r"\(.*?\)", "", line))
        if not found or ("M", "0") in found:
            continue
        said = dict(found)
        for letter, number in found:
            if letter == "G":
                motion = {"0": RAPID, "1": LINE}.get(number, motion)
                mode = {"94": 0, "93": 1}.get(number, mode)
            elif letter == "F":
                feed = float(number)
            else:
                at[letter] = at[letter] + float(number) if steps else float(number)
        assert set(said) & set("XYZA"), f"a motion block without an axis word: {line}"
        if motion == LINE and mode == INVERSE:
            assert "F" in said, f"NISTIR 6556 section 2.1.2.6 wants F in every block of inverse time: {line}"
        blocks.append((motion, mode if motion == LINE else None, feed if motion == LINE else None, tuple(at.values())))
    return blocks


def asked(plan: list[Any], *, steps: bool) -> list[tuple[Any, ...]]:
    """The same by hand from the rows: each place rounded to thousandths, rows that change nothing left out."""
    at: list[float] = [0.0 if steps else math.nan] * 4
    stated: set[int] = set()
    blocks = []
    for item in plan:
        if isinstance(item, str):
            stated = set() if item == "stop" else stated
            continue
        for *places, motion, mode, feed in item:
            news = False
            for i, value in enumerate(places):
                if math.isnan(value):
                    continue
                rounded = round(value * 1000) / 1000
                news |= i not in stated or rounded != at[i]
                at[i] = rounded
                stated.add(i)
            if news:
                rounded_feed = max(round(feed * (1000 if mode else 10)), 1) / (1000 if mode else 10)
                blocks.append((motion, mode if motion == LINE else None, rounded_feed if motion == LINE else None, tuple(at)))
    return blocks


@given(st.lists(step, max_size=6), words, st.booleans())
def test_what_is_written_is_what_was_asked_block_for_block(plan: list[Any], said: dict[str, Any], steps: bool) -> None:
    events = {
        "stop": Event("stop", 1, facts={"optional": False}),
        "note": Event("note", 1, facts={"text": "hold"}),
    }
    items = [events[item] if isinstance(item, str) else run_of(item) for item in plan]
    chunks = write_program(items, profile(said, steps=steps), [shared_templates_folder()], inch=False, rotary_letters=["A"])
    got = carried_out(b"".join(chunks).decode("ascii"), steps=steps)
    expected = asked(plan, steps=steps)
    assert len(expected) == len(got)
    for one, other in zip(expected, got, strict=True):
        assert one[:3] == other[:3]
        np.testing.assert_allclose(other[3], one[3], atol=1e-9, equal_nan=True)
