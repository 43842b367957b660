"""The one word said of a program: what makes it run, look or stop, and in which order the reasons stand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from outcome_parts import BAR, FLAT, MILL, judged, names, operation, part, written

from steadyrest.posting import post, post_to_memory, prove
from steadyrest.request import Request

WRAP = [{"rapid": [-20, 0, 5]}, {"cut": [-20, 0, -1], "feed": 200}, {"cut": [-20, 12, -1], "feed": 600}, {"rapid": [-20, 12, 5]}]
PLUNGE = [{"rapid": [-10, 3, 30]}, {"rapid": [-10, 3, 15]}, {"cut": [-20, 3, 15], "feed": 600}]
LOW = [{"rapid": [5, 0, 30]}, {"rapid": [5, 0, 6]}, {"cut": [-20, 0, 6], "feed": 100}]
ON_TOP = [{"rapid": [-5, 0, 2]}, {"cut": [-5, 0, -2], "feed": 100}, {"cut": [-20, 0, -2]}]


def wrapped(diameter: float) -> dict[str, Any]:
    return part(operation(WRAP, {"intent": "wrapped", "diameter": diameter}, name="letters"))


def test_a_clamped_part_with_nothing_to_find_runs(tmp_path: Path) -> None:
    posted = judged(tmp_path, part(operation(FLAT)), controller="limited-clamped")

    assert ("run", ()) == (posted.outcome.word, posted.outcome.findings)


def test_an_indexed_cut_without_a_clamp_is_looked_at(tmp_path: Path) -> None:
    posted = judged(tmp_path, part(operation(FLAT)))

    assert ("look", [("clamp", "look")]) == (posted.outcome.word, names(posted))


def test_the_radius_taken_for_the_diameter_stops_with_the_wrap_as_its_cause(tmp_path: Path) -> None:
    posted = judged(tmp_path, wrapped(20))

    assert ("stop", [("wrap", "stop")]) == (posted.outcome.word, names(posted))
    cause = posted.outcome.findings[0]
    assert "diameter of 20 mm, but the stock's diameter is 40 mm: the radius seems to be given instead" in cause.sentence
    assert "rapid" in [one.name for one in cause.consequences]


def test_a_wrap_on_the_skin_of_the_stock_runs(tmp_path: Path) -> None:
    assert "run" == judged(tmp_path, wrapped(40)).outcome.word


def test_a_rapid_plunge_into_uncut_stock_stops_at_its_line_and_depth(tmp_path: Path) -> None:
    posted = judged(tmp_path, part(operation(PLUNGE)), controller="limited-clamped")

    assert ("stop", [("rapid", "stop")]) == (posted.outcome.word, names(posted))
    finding = posted.outcome.findings[0]
    assert 1 == finding.operation
    assert finding.line is not None
    # 20 mm of bar, to Z 15, off the middle by the tool's inner edge: 5 mm but for a little.
    assert finding.sentence.startswith("a rapid goes into material, about ")
    assert 4 < float(finding.sentence.split(" about ")[1].split()[0]) <= 5


def test_an_operation_so_low_that_the_shank_enters_the_bar_stops(tmp_path: Path) -> None:
    posted = judged(tmp_path, part(operation(LOW)), controller="limited-clamped")

    assert ("stop", [("shank", "stop")]) == (posted.outcome.word, names(posted))


def test_a_slot_no_deeper_than_the_edges_are_long_runs(tmp_path: Path) -> None:
    deep = [{**move} for move in LOW]
    for move in deep[1:]:
        next(iter(move.values()))[2] = 10.5
    assert "run" == judged(tmp_path, part(operation(deep)), controller="limited-clamped").outcome.word


def test_an_origin_on_top_of_the_stock_stops_and_says_where_the_top_is(tmp_path: Path) -> None:
    posted = judged(tmp_path, part(operation(ON_TOP)), controller="limited-clamped")

    assert "stop" == posted.outcome.word
    finding = posted.outcome.findings[0]
    assert ("origin", "stop", 1) == (finding.name, finding.weight, finding.operation)
    assert "the top of the stock is then Z 20" in finding.sentence
    assert "rapid" in [one.name for one in finding.consequences], "what comes of it stands under it"


def test_holes_drilled_from_the_top_of_the_stock_do_not_hide_its_origin(tmp_path: Path) -> None:
    spot = [{"rapid": [-10, 0, 5]}, {"cut": [-10, 0, -1], "feed": 300}, {"rapid": [-10, 0, 5]}]
    hole = {"hole": [-10, 0], "cycle": "drill", "retract": 2, "bottom": -5, "feed": 100}
    through = [{"rapid": [-10, 0, 25]}, {"hole": [-10, 0], "cycle": "drill", "retract": 22, "bottom": -5, "feed": 100}]

    assert "origin" in [name for name, _ in names(judged(tmp_path, part(operation([*spot, hole]))))]
    assert "origin" not in [name for name, _ in names(judged(tmp_path, part(operation(through))))]


def test_wrapped_holes_in_the_skin_leave_the_origin_without_doubt(tmp_path: Path) -> None:
    ring = [{"rapid": [-20, 0, 5]}, {"hole": [-20, 0], "cycle": "drill", "retract": 2, "bottom": -5, "feed": 100}]
    posted = judged(tmp_path, part(operation(ring, {"intent": "wrapped", "diameter": 40})))

    assert "origin" not in [name for name, _ in names(posted)]


def test_a_slot_that_begins_over_the_stock_and_goes_to_the_axis_is_not_doubted(tmp_path: Path) -> None:
    deep = [{"rapid": [5, 0, 25]}, {"cut": [5, 0, -2], "feed": 100}, {"cut": [-20, 0, -2]}]
    assert "origin" not in [name for name, _ in names(judged(tmp_path, part(operation(deep))))]


def test_what_is_accepted_is_looked_at_and_stays_listed(tmp_path: Path) -> None:
    posted = judged(tmp_path, part(operation(PLUNGE)), controller="limited-clamped", accept=("rapid", "travel"))

    assert ("look", [("rapid", "look")]) == (posted.outcome.word, names(posted))
    assert posted.outcome.findings[0].accepted
    assert ("travel",) == posted.outcome.unmet


def test_a_cause_that_is_accepted_accepts_nothing_of_what_comes_of_it(tmp_path: Path) -> None:
    posted = judged(tmp_path, part(operation(ON_TOP)), controller="limited-clamped", accept=("origin",))

    assert "stop" == posted.outcome.word
    assert "rapid" in posted.text()


def test_without_stock_or_simulation_nothing_runs(tmp_path: Path) -> None:
    bare = part(operation(FLAT), stock=None, clearance=25)

    for posted in (
        judged(tmp_path, bare, controller="limited-clamped"),
        judged(tmp_path, part(operation(FLAT)), controller="limited-clamped", simulate=False),
    ):
        assert ("look", [("not-simulated", "look")]) == (posted.outcome.word, names(posted))


def test_an_axis_past_its_travel_stops_and_can_be_accepted(tmp_path: Path) -> None:
    short = ("linear.X.travel=20",)
    posted = judged(tmp_path, part(operation(FLAT)), *short, controller="limited-clamped")

    assert ("stop", [("travel", "stop")]) == (posted.outcome.word, names(posted))
    assert "X needs 25 mm of travel from end to end, and has 20 mm" in posted.text()
    assert "look" == judged(tmp_path, part(operation(FLAT)), *short, controller="limited-clamped", accept=("travel",)).outcome.word


def test_a_failed_proof_stops_whatever_is_accepted(tmp_path: Path) -> None:

    path, program = written(tmp_path, part(operation(FLAT))), tmp_path / "peg.nc"
    post(Request(path, "limited-clamped", program))
    text = program.read_text(encoding="ascii")
    assert " X-20." in text or "X-20" in text
    program.write_text(text.replace("X-20", "X-21", 1), encoding="ascii")

    proved = prove(program, Request(path, "limited-clamped", accept=("rapid", "origin")))
    assert "stop" == proved.outcome.word
    assert "proof" == proved.outcome.findings[0].name


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_lengths_are_said_in_the_units_of_the_program(tmp_path: Path, units: str) -> None:
    posted = judged(tmp_path, part(operation(PLUNGE)), f"units.program={units}", controller="limited-clamped")

    assert f" {units} deep" in posted.text()


def test_a_cut_slowed_to_less_than_60_percent_is_looked_at(tmp_path: Path) -> None:
    turning = [{"rapid": [-20, 0, 5]}, {"cut": [-20, 0, -1], "feed": 200}, {"cut": [-20, 60, -1], "feed": 2000}]
    data = part(operation(turning, {"intent": "wrapped", "diameter": 40}))

    assert "run" == judged(tmp_path, data, "rotary.A.fastest=6000").outcome.word
    slowed = judged(tmp_path, data, "rotary.A.fastest=1000")
    assert [("slowed", "look")] == names(slowed)
    (finding,) = slowed.outcome.findings
    assert finding.line is not None
    assert finding.lines is None or finding.lines[0] == finding.line


def test_tools_of_an_inch_part_are_judged_in_inches(tmp_path: Path) -> None:
    inch = part(
        operation([{"rapid": [-0.4, 0.1, 1.2]}, {"rapid": [-0.4, 0.1, 0.6]}, {"cut": [-0.8, 0.1, 0.6], "feed": 20}]),
        units="inch",
        stock={**BAR, "diameter": 1.6, "from": -2.4, "held": {"at": "from", "length": 0.6}},
        tools=[{**MILL, "diameter": 0.25, "cutting_length": 0.4, "length": 1.2}],
    )
    assert ("rapid", "stop") in names(judged(tmp_path, inch, controller="limited-clamped"))


@pytest.mark.parametrize("controller", ["rs274ngc", "limited-clamped"])
def test_screen_report_and_file_count_the_same_lines(tmp_path: Path, controller: str) -> None:
    """With an end mark and without."""
    _, text = post_to_memory(Request(written(tmp_path, part(operation(FLAT))), controller))
    posted = judged(tmp_path, part(operation(FLAT)), controller=controller)

    assert text.count(b"\n") == posted.verdict.whole.lines
    assert f" {posted.verdict.whole.lines} lines" in posted.text()


def test_stock_that_is_too_short_is_said_before_the_cuts_in_the_jaws_that_come_of_it(tmp_path: Path) -> None:
    far = [{"rapid": [5, 3, 30]}, {"rapid": [5, 3, 17]}, {"cut": [-75, 3, 17], "feed": 600}, {"rapid": [-75, 3, 30]}]
    posted = judged(tmp_path, part(operation(far)), controller="limited-clamped")

    assert [("stick-out", "stop"), ("jaws", "stop")] == names(posted)
