"""Checking a profile: mistakes are found with their place, good profiles pass, and the exit code says which."""

from __future__ import annotations

import pytest
from profile_tools_parts import SHORT_TOUR, MakeProfile, levels

from steadyrest.errors import PlanError, ProfileError, TemplateError
from steadyrest.profile import load_profile, resolve
from steadyrest.profile_tools import Result, check, tour
from steadyrest.profile_tools.check_files import Report
from steadyrest.profile_tools.checks import check_extreme_settings, check_tour, near_the_wrap, turned, variants
from steadyrest.profile_tools.settings import with_values
from steadyrest.profile_tools.trial import Trial, events_reached, tried, try_out

GOOD = Result("tour", "indexed", "good", "proved")
INDEXED = {"indexed": tour()["indexed"]}


def test_a_bundled_profile_is_good() -> None:
    report = check("rs274ngc-right-end")
    assert 0 == report.exit_code()
    assert {"settings", "templates", "sources", "effect", "tour", "extreme"} == {result.check for result in report.results}


def test_a_mistake_in_the_settings_ends_the_checks_with_its_place(make_profile: MakeProfile) -> None:
    report = check(str(make_profile("words.space = true")))
    assert (1, 1) == (report.exit_code(), len(report.results))
    assert "did you mean spaces" in report.results[0].words


def test_each_mistake_in_the_settings_is_a_finding_of_its_own(make_profile: MakeProfile) -> None:
    report = check(str(make_profile("words.space = true\ntool.largest = 0")))
    assert [("words.space", "wrong"), ("tool.largest", "wrong")] == [(each.what, each.level) for each in report.results]
    assert "tool.largest" not in report.results[0].words


def test_an_impossible_combination_is_wrong(make_profile: MakeProfile) -> None:
    report = check(str(make_profile('feed.inverse_code = ""')))
    assert "inverse time is chosen" in report.results[0].words


def test_a_name_that_leads_to_no_profile_is_an_error() -> None:
    with pytest.raises(ProfileError, match="there is no profile called"):
        check("no-such-controller")


def test_a_program_that_is_not_proved_is_refused(make_profile: MakeProfile) -> None:
    resolved = resolve(make_profile(tool_change="{{ words.tool }}\n"))
    report = Report("x", tuple(check_tour(tried(SHORT_TOUR, resolved))))
    assert {"indexed": "refused", "tapping": "refused"} == levels(report.results, "tour")
    assert 3 == report.exit_code()


def test_a_template_that_fails_while_a_program_is_written_is_wrong(make_profile: MakeProfile) -> None:
    resolved = resolve(make_profile(index="{{ comment('turn') }}\n"))
    found = levels(check_tour(tried(SHORT_TOUR, resolved)), "tour")
    assert "wrong" == found["indexed"]


def test_a_toolpath_that_the_controller_cannot_run_is_no_mistake() -> None:
    resolved = resolve("plain-lines")
    assert {"indexed": "good", "tapping": "good"} == levels(check_tour(tried(SHORT_TOUR, resolved)), "tour")


def test_a_profile_that_can_write_nothing_is_wrong() -> None:
    trial = Trial("refused", words="it cannot", error=PlanError("it cannot"))
    assert {"x": "good", "all": "wrong"} == levels(check_tour({"x": trial}), "tour")


def test_a_mistake_of_steadyrest_itself_is_a_result_and_no_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.profile_tools.trial.begin", lambda *_, **__: 1 / 0)
    trial = try_out(tour()["indexed"], resolve("rs274ngc"))
    assert "broken" == trial.outcome
    assert {"indexed": "refused"} == {k: v for k, v in levels(check_tour({"indexed": trial}), "tour").items() if k == "indexed"}


def test_a_refusal_keeps_its_error(make_profile: MakeProfile) -> None:
    resolved = resolve(make_profile(index="{{ comment('turn') }}\n"))
    assert isinstance(try_out(tour()["indexed"], resolved).error, TemplateError)


def test_extreme_settings_are_proved_or_refused_in_words() -> None:
    resolved = resolve("rs274ngc")
    found = levels(check_extreme_settings(resolved, INDEXED), "extreme")
    assert {"good"} == set(found.values())
    assert "a mirrored part" in found
    assert {"inches", "coarse numbers", "start near the wrap", "narrow travel, turn_back"} <= set(found)


def test_a_mirrored_part_that_the_proof_does_not_see_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.profile_tools.checks._proved", lambda *_: True)
    assert "refused" == levels(check_extreme_settings(resolve("rs274ngc"), INDEXED), "extreme")["a mirrored part"]


def test_an_extreme_setting_that_breaks_something_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.profile_tools.checks.tried", lambda *_: {"x": Trial("broken", words="it broke")})
    assert "refused" == levels(check_extreme_settings(resolve("rs274ngc"), INDEXED), "extreme")["inches"]


def test_both_facts_of_the_mounting_turned_round_are_the_same_mounting() -> None:
    profile = load_profile("rs274ngc")
    rotary = with_values(profile, turned(profile, "chuck_faces", "positive_turns_chuck")).rotary["A"]
    assert ("-X", "counterclockwise") == (rotary.chuck_faces, rotary.positive_turns_chuck)


def test_a_profile_without_a_rotary_has_no_extreme_mounting(make_profile: MakeProfile) -> None:
    profile = load_profile(make_profile('drop = ["rotary.A"]'))
    assert ["coarse numbers", "inches", "millimetres"] == [name for name, _, _ in variants(profile)]


def test_near_the_wrap_the_angles_lie_just_before_a_full_turn() -> None:
    rotary = near_the_wrap(tour()["indexed"]).operations[0].rotary
    assert rotary.intent == "indexed"
    assert (359.98, 419.98) == rotary.angles[:2]


def test_the_tour_reaches_the_events_that_its_programs_have() -> None:
    resolved = resolve("rs274ngc")
    found = events_reached([tour()["tapping"]], resolved)
    assert {"program_start", "tool_change", "index", "cycle", "program_end"} <= found
    assert "clamp" not in found


@pytest.mark.parametrize(
    ("levels_found", "strict", "expected"),
    [
        (["good"], False, 0),
        (["good", "remark"], False, 0),
        (["good", "remark"], True, 1),
        (["good", "wrong"], False, 1),
        (["wrong", "refused"], False, 3),
    ],
)
def test_the_exit_code_is_that_of_the_worst_result(levels_found: list[str], strict: bool, expected: int) -> None:
    report = Report("x", tuple(Result("tour", "x", level, "") for level in levels_found))  # type: ignore[arg-type]
    assert expected == report.exit_code(strict=strict)


def test_the_table_has_a_row_for_each_result_and_counts_them() -> None:
    text = Report("mill", (GOOD, Result("tour", "still", "wrong", "no\ncure: yes"))).text()
    assert ["mill", "tour", "good", "indexed", "proved", "WRONG", "still", "no", "cure:", "yes", "1", "good,", "1", "wrong"] == text.split()


def test_the_data_is_the_table_for_machines() -> None:
    data = Report("mill", (GOOD,)).data()
    assert {"profile": "mill", "exit_code": 0} == {key: data[key] for key in ("profile", "exit_code")}
    assert [{"check": "tour", "what": "indexed", "level": "good", "words": "proved"}] == data["results"]
