"""The screen after posting: what is alike is said once, with how often, and what does not fit is counted."""

from __future__ import annotations

from pathlib import Path

from steadyrest.errors import Place
from steadyrest.notices import Notice, noticed
from steadyrest.posting import post_to_memory
from steadyrest.request import Request
from steadyrest.summary import COLUMNS, MOST_NOTICES, _notice_lines, finding_lines

TOUR = Path(__file__).parents[1] / "golden" / "tour"


def remarks(*texts: str, operation: int | None = None) -> list[Notice]:
    return [noticed("Remark", Place(operation=operation), text=text) for text in texts]


def test_notices_that_say_the_same_at_one_place_are_one_line_with_how_often() -> None:
    lines = _notice_lines([*remarks("one", "one"), *remarks("one", operation=2)])
    assert ["  - one (2 times)", "  - operation 2: one"] == lines[1:]


def test_of_many_notices_the_rest_is_counted_and_none_is_longer_than_a_line() -> None:
    lines = _notice_lines(remarks(*(f"{at} " + "word " * 40 for at in range(MOST_NOTICES + 3))))
    assert "  - and 3 more: see --json" == lines[-1]
    assert max(map(len, lines)) <= COLUMNS
    assert [] == _notice_lines([])


def test_an_accepted_name_that_finds_nothing_is_told_last() -> None:
    posted, _ = post_to_memory(Request(TOUR / "still.toolpath.json", accept=["travel"]))
    assert "  --accept travel: nothing of that name was found" == finding_lines(posted)[-1]


def test_as_data_it_is_the_outcome_the_verdict_and_every_notice() -> None:
    posted, _ = post_to_memory(Request(TOUR / "wrapped.toolpath.json", "limited-clamped"))
    data = posted.as_json()
    assert (posted.outcome.word, "limited-clamped") == (data["outcome"], data["controller"])
    assert [notice.sentence() for notice in posted.notices] == [each["sentence"] for each in data["changed"]]
