"""What is wrong in the files of a profile, or deserves a remark: templates, and settings with their sources."""

from __future__ import annotations

import pytest
from profile_tools_parts import SHORT_TOUR, MakeProfile, levels

from steadyrest.profile import bundled_folder, resolve
from steadyrest.profile_tools.check_files import check_effect, check_sources, check_templates


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
