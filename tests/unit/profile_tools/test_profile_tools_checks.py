"""Checking a profile: mistakes are found with their place, good profiles pass, and the exit code says which."""

from __future__ import annotations

import pytest
from profile_tools_parts import SHORT_TOUR, MakeProfile, levels

from steadyrest.errors import PlanError, ProfileError, TemplateError
from steadyrest.profile import bundled_folder, load_profile, resolve
from steadyrest.profile_tools import Result, check, tour
from steadyrest.profile_tools.checks import (
    Report,
    check_effect,
    check_extreme_settings,
    check_sources,
    check_templates,
    check_tour,
    near_the_wrap,
    turned,
    variants,
)
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


def template_levels(make_profile: MakeProfile, **templates: str) -> dict[str, str]:
    resolved = resolve(make_profile(**templates))
    return levels(check_templates(resolved, {"tool_change", "spindle_start"}), "templates")


@pytest.mark.parametrize(
    "template",
    ["{% if %}", "{{ words.nothing }}", "{{ 1 + 1 }}", "{{ facts.number }}\n{{ nobody }}"],
    ids=["syntax", "unknown word", "arithmetic", "unknown name"],
)
def test_a_mistake_in_a_template_is_wrong(make_profile: MakeProfile, template: str) -> None:
    assert "wrong" == template_levels(make_profile, tool_change=template)["tool_change.j2"]


def test_mistakes_in_two_templates_are_both_found(make_profile: MakeProfile) -> None:
    found = template_levels(make_profile, tool_change="{% if %}", spindle_start="{{ words.nothing }}")
    assert {"tool_change.j2": "wrong", "spindle_start.j2": "wrong"} == found


def test_a_mistake_is_said_with_the_file_where_it_lies(make_profile: MakeProfile) -> None:
    folder = make_profile(tool_change="\n{% if %}")
    (found,) = check_templates(resolve(folder), set())
    assert f"{folder / 'templates' / 'tool_change.j2'}:2" in found.words


def test_a_template_of_no_event_gets_a_remark_with_the_name_that_may_be_meant(make_profile: MakeProfile) -> None:
    results = list(check_templates(resolve(make_profile(toolchange="M6\n")), set()))
    assert [("toolchange.j2", "remark", True)] == [(r.what, r.level, "tool_change.j2" in r.words) for r in results if r.level != "good"]


def test_an_included_template_gets_no_remark(make_profile: MakeProfile) -> None:
    change = '{% include "warning.j2" %}\n{{ words.tool }} {{ setting.tool.change }}\n'
    found = template_levels(make_profile, tool_change=change, warning="{{ comment('mind the tool') }}\n")
    assert {"good"} == set(found.values())


def test_mistakes_in_an_included_template_and_in_another_are_told_of_their_own_files(make_profile: MakeProfile) -> None:
    change = '{% include "warning.j2" %}\n{{ words.tool }} {{ setting.tool.change }}\n'
    found = template_levels(make_profile, tool_change=change, warning="{{ nobody }}\n", rewind="{{ motion }}\n")
    assert {"warning.j2": "wrong", "rewind.j2": "wrong"} == found


def test_a_template_equal_to_the_inherited_one_gets_a_remark(make_profile: MakeProfile) -> None:
    shared = (bundled_folder().parent / "templates" / "spindle_start.j2").read_text(encoding="utf-8")
    assert "remark" == template_levels(make_profile, spindle_start=shared)["spindle_start.j2"]


def test_a_template_that_no_program_of_the_tour_uses_gets_a_remark(make_profile: MakeProfile) -> None:
    assert "remark" == template_levels(make_profile, turn_back="{{ motion }}\n{{ comment('back') }}\n")["turn_back.j2"]


def test_a_template_under_the_former_name_of_an_event_is_wrong(make_profile: MakeProfile) -> None:
    assert "wrong" == template_levels(make_profile, rewind="{{ motion }}\n")["rewind.j2"]


@pytest.mark.parametrize(
    ("settings", "expected"),
    [
        ('stops.end = "M30"', "remark"),
        ('stops.end = "M30"  # manual, page 12', "good"),
        ('# manual, page 12\nstops.end = "M30"', "good"),
        ('stops.end = "M30"  #', "remark"),
        ('program.start_mark = "#x#"', "remark"),
    ],
)
def test_a_setting_needs_its_source_in_a_comment(make_profile: MakeProfile, settings: str, expected: str) -> None:
    assert {expected} == {result.level for result in check_sources(make_profile(settings))}


def test_a_setting_equal_to_the_parents_gets_a_remark(make_profile: MakeProfile) -> None:
    found = levels(check_effect(resolve(make_profile('stops.end = "M2"')), SHORT_TOUR), "effect")
    assert {"stops.end": "remark"} == found


def test_an_answer_to_a_question_gets_no_remark_for_being_the_parents(make_profile: MakeProfile) -> None:
    answers = 'rotary.A.chuck_faces = "+X"  # turn check\nrotary.A.fastest = 3600  # watch in hand\nstops.end = "M2"  # a trusted program\n'
    answers += "spindle.dwell = 0  # it is up at once"
    assert {} == levels(check_effect(resolve(make_profile(answers)), SHORT_TOUR), "effect")
    unasked = 'rotary.A.chuck_faces = "+X"\ncodes.rapid = "G0"  # a trusted program'
    found = levels(check_effect(resolve(make_profile(unasked)), SHORT_TOUR), "effect")
    assert {"rotary.A.chuck_faces": "remark", "codes.rapid": "remark"} == found


def test_a_setting_that_changes_no_program_of_the_tour_gets_a_remark(make_profile: MakeProfile) -> None:
    found = levels(check_effect(resolve(make_profile("tool.largest = 40\ncycles.peck_gap = 2")), SHORT_TOUR), "effect")
    assert {"cycles.peck_gap": "remark"} == found


def test_a_code_taken_on_trust_that_no_program_has_gets_a_remark(make_profile: MakeProfile) -> None:
    folder = make_profile('codes.trusted = ["M64", "M65"]', spindle_stop="M64\n{{ words.spindle }}\n")
    results = list(check_effect(resolve(folder), SHORT_TOUR))
    assert [("codes.trusted", "remark", True)] == [(r.what, r.level, r.words.startswith("M65 is in no program")) for r in results]


def test_a_setting_that_others_need_has_an_effect(make_profile: MakeProfile) -> None:
    settings = 'arcs.form = "radius"\narcs.full_circles = false\n'
    assert {"2 setting(s)": "good"} == levels(check_effect(resolve(make_profile(settings)), SHORT_TOUR), "effect")
