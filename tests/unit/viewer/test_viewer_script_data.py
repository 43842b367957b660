from __future__ import annotations

import base64
import json
import zlib

import numpy as np
import pytest
from viewer_parts import FLATS, LETTER, looked, part, shank_in_stock, slot_and_letter, three_sides

from steadyrest.viewer import script_data
from steadyrest.viewer.packing import packed
from steadyrest.viewer.script_data import page_data


@pytest.mark.parametrize("most", [90_000, 3_000])
def test_the_page_says_at_each_time_what_was_cut_by_then(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(script_data, "MOST_CHANGES", most)
    seen = looked(slot_and_letter("X"))
    assert seen.cut is not None
    assert seen.cut.history is not None
    facts, columns = page_data(seen)
    told, history = facts["field"]["history"], seen.cut.history.thinner(most)
    assert len(history) <= most
    step = facts["field"]["step"] * told["coarser"]
    line, at, to = (
        columns["changed_line"].numbers,
        columns["changed_at"].numbers * columns["changed_at"].step,
        columns["changed_to"].numbers,
    )
    for place in (0, 0.31, 0.5, 0.77, 1):
        minutes = place * float(seen.track.minutes[-1])
        state = columns["before"].numbers.copy()
        done = int(np.searchsorted(at, minutes + columns["changed_at"].step, side="right"))
        state[line[:done]] = to[:done]
        then = history.at(float(np.interp(minutes, seen.track.minutes, seen.track.blocks)))
        near = np.abs(state.reshape(then.shape) * step - then) < 0.51 * step + 1e-3
        assert near.mean() > 0.995  # but for what is cut within one step of time
    rows, columns_ = (told[key][0] + told[key][1] * np.arange(told[n]) for key, n in (("rows", "n"), ("columns", "m")))
    np.testing.assert_array_equal(rows, history.rows)
    np.testing.assert_array_equal(columns_, history.columns)


def test_on_a_chain_the_page_has_all_sides_each_with_its_own_columns_and_history() -> None:
    seen = looked(three_sides("Z"), controller="two-in-table", cells=None)
    assert seen.cut is not None
    facts, columns = page_data(seen)
    assert ["heights", "radii"] == [one["chart"] for one in (facts["field"], *facts["sides"])]
    (around,), side = facts["sides"], seen.cut.sides[1]
    assert (around["n"], around["m"]) == side.field.shape
    np.testing.assert_allclose(columns["outer_1"].numbers * around["step"], side.field.outer_mm, atol=around["step"])
    np.testing.assert_array_equal(columns["last_cut_1"].numbers, side.last_cut)
    assert {1, 2} <= set(columns["last_cut_1"].numbers.ravel().tolist())
    assert around["history"]["n"] * around["history"]["m"] == len(columns["before_1"].numbers)
    assert len(columns["changed_line_1"].numbers) == len(columns["changed_to_1"].numbers) > 100
    np.testing.assert_allclose(np.reshape(around["rows"], (3, 3)), side.rows)


def test_a_line_of_a_long_program_takes_less_than_55_bytes_of_the_page() -> None:
    """So 100,000 lines stay under 6 MB, half a megabyte for all else; here no two moves are alike."""

    def size(moves: int) -> int:
        random = np.random.default_rng(1)
        steps = np.column_stack([-35 / moves + random.uniform(-0.3, 0.3, moves), random.uniform(-0.5, 0.5, moves), np.zeros(moves)])
        places = np.round(
            np.cumsum(steps, axis=0) + np.column_stack([np.full(moves, -10), np.zeros(moves), random.uniform(-1, 0, moves)]), 3
        )
        feeds = random.integers(200, 900, moves)
        cuts = [{"cut": place, "feed": feed} for place, feed in zip(places.tolist(), feeds.tolist(), strict=True)]
        head, body = packed(page_data(looked(part(LETTER | {"moves": [{"rapid": [-50, -6, 5]}, *cuts]}), cells=(8, 16)))[1])
        return len(base64.b64encode(zlib.compress(body, 6))) + len(json.dumps(head))

    assert (size(3000) - size(1000)) / 2000 < 55


@pytest.mark.parametrize(
    ("controller", "sets", "axes", "word", "same"),
    [
        ("rs274ngc", [], ["X", "Y", "Z"], "A", True),
        ("y-drives-rotary", [], ["X", "", "Z"], "Y", True),
        ("y-drives-rotary", ["rotary.A.mm_per_degree=-0.1"], ["X", "", "Z"], "Y", False),
        ("upright-c", [], ["X", "Y", "Z"], "C", True),
    ],
)
def test_axes_are_called_as_the_machine_calls_them(controller: str, sets: list[str], axes: list[str], word: str, same: bool) -> None:
    job = part(FLATS | {"rotary": {"intent": "still"}, "moves": [{"rapid": [0, 0, 30]}]}, axis="Z" if controller == "upright-c" else "X")
    facts, _ = page_data(looked(job, None, *sets, controller=controller))
    (line,) = facts["lines"]
    assert (axes, word) == (facts["axes"], line["word"])
    # With the sense of the letter itself the part turns against the tool that goes round it.
    assert same == np.allclose(line["positive"], -np.array(line["about"]))


def test_what_touches_in_several_blocks_is_a_range_of_lines() -> None:
    seen = looked(shank_in_stock())
    lines = seen.text.decode().splitlines()
    first, last = (1 + next(at for at, line in enumerate(lines) if line.endswith(end)) for end in ("X-4 F600", "X-20"))
    (shank,) = (one for one in seen.posted.outcome.findings if one.name == "shank")
    assert (first, last) == shank.lines
    facts, _ = page_data(seen)
    assert [shank.line, first, last] in [[line, begin, end] for line, _, begin, end in facts["findings"]]
    (rapid,) = (one for one in seen.posted.outcome.findings if one.name == "rapid")
    assert rapid.lines is None
    assert [rapid.line] * 3 in [[line, begin, end] for line, _, begin, end in facts["findings"]]
