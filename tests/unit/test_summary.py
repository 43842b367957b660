"""The screen after posting: what is alike is said once, with how often, and what does not fit is counted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from steadyrest.errors import Place
from steadyrest.notices import Notice, noticed
from steadyrest.posting import post_to_memory
from steadyrest.request import Request
from steadyrest.summary import COLUMNS, MOST_NOTICES, finding_lines

TOUR = Path(__file__).parents[1] / "golden" / "tour"


def remarks(*texts: str, operation: int | None = None) -> list[Notice]:
    return [noticed("Remark", Place(operation=operation), text=text) for text in texts]


def lines_of(*notices: Notice) -> list[str]:
    """What the screen says of these notices, and the line before."""
    posted, _ = post_to_memory(Request(TOUR / "still.toolpath.json", simulate=False))
    lines = replace(posted, notices=notices).text().splitlines()
    at = next(at for at, line in enumerate(lines) if line.startswith("Not checked"))
    return [line for line in lines[:at] if line.startswith(("  Changed", "  - "))]


def test_notices_that_say_the_same_at_one_place_are_one_line_with_how_often() -> None:
    lines = lines_of(*remarks("one", "one"), *remarks("one", operation=2))
    assert ["  - one (2 times)", "  - operation 2: one"] == lines[1:]


def test_of_many_notices_the_rest_is_counted_and_none_is_longer_than_a_line() -> None:
    lines = lines_of(*remarks(*(f"{at} " + "word " * 40 for at in range(MOST_NOTICES + 3))))
    assert "  - and 3 more: see --json" == lines[-1]
    assert max(map(len, lines)) <= COLUMNS
    assert [] == lines_of()


def test_an_accepted_name_that_finds_nothing_is_told_last() -> None:
    posted, _ = post_to_memory(Request(TOUR / "still.toolpath.json", accept=["travel"]))
    assert "  --accept travel: nothing of that name was found" == finding_lines(posted)[-1]


def test_as_data_it_is_the_outcome_the_verdict_and_every_notice() -> None:
    posted, _ = post_to_memory(Request(TOUR / "wrapped.toolpath.json", "limited-clamped"))
    data = posted.as_json()
    assert (posted.outcome.word, "limited-clamped") == (data["outcome"], data["controller"])
    assert [notice.sentence() for notice in posted.notices] == [each["sentence"] for each in data["changed"]]
