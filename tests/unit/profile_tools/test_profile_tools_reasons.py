"""Which change of a profile makes which line of a program differ."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from profile_tools_parts import MakeProfile, changed_rows, compared

from steadyrest.profile import load_profile, resolve
from steadyrest.profile_tools import tour
from steadyrest.profile_tools.reasons import Way, changes_between
from steadyrest.profile_tools.trial import program_parts


def test_each_line_that_differs_names_the_setting_that_made_it_so(make_profile: MakeProfile) -> None:
    folder = make_profile('stops.end = "M30"\ncodes.rapid = "G00"\nrotary.A.chuck_faces = "-X"')
    rows = changed_rows(compared("rs274ngc", folder, "indexed"))
    assert ("program_end", "M2", "M30", ("stops.end",)) in rows
    assert ("approach", "G0 X5 Y-15", "G00 X-5 Y15", ("codes.rapid", "rotary.A.chuck_faces")) in rows
    assert ("retract", "G53 G0 Z0", "G53 G00 Z0", ("codes.rapid",)) in rows


def test_a_template_is_the_reason_of_the_lines_that_it_changes(make_profile: MakeProfile) -> None:
    folder = make_profile(spindle_start="{{ words.spindle }} {{ words.speed }}\n")
    comparison = compared("rs274ngc", folder, "tapping")
    assert ["spindle_start.j2"] == [each.key for each in comparison.templates]
    assert [("spindle_start", "S500 M3", "M3 S500", ("template spindle_start.j2",))] == changed_rows(comparison)


def test_a_template_that_includes_a_new_one_is_changed_together_with_it(make_profile: MakeProfile) -> None:
    folder = make_profile(spindle_stop='{% include "warning.j2" %}\n{{ words.spindle }}\n', warning='{{ comment("it runs down") }}\n')
    rows = changed_rows(compared("rs274ngc", folder, "tapping"))
    assert [("spindle_stop", None, "(it runs down)")] == [row[:3] for row in rows]
    assert "template spindle_stop.j2" in rows[0][3][0]


def test_settings_that_cannot_stand_alone_are_one_reason(make_profile: MakeProfile) -> None:
    folder = make_profile('coolant.flood = "M7"\ncoolant.mist = "M8"')  # one of them alone would mean two things
    rows = changed_rows(compared("rs274ngc", folder, "indexed"))
    assert {("coolant_on", "M8", "M7", ("coolant.flood with coolant.mist",))} == set(rows)


def test_a_setting_made_before_the_one_that_needs_it_is_still_a_reason(make_profile: MakeProfile) -> None:
    folder = make_profile('[rotary.A.clamp]\nuse = "indexing"\non = "M10"\noff = "M11"\ndwell = 0.5')
    rows = changed_rows(compared("rs274ngc", folder, "indexed"))
    assert ("clamp", None, "G4 P0.5", ("rotary.A.clamp.dwell", "rotary.A.clamp.use")) in rows


def test_differences_without_effect_on_a_program_are_named(make_profile: MakeProfile) -> None:
    folder = make_profile('stops.end = "M30"\ncoolant.air = "M50"')
    assert ("coolant.air",) == compared("rs274ngc", folder, "indexed").programs[0].without_effect


def test_block_numbers_and_line_endings_do_not_make_every_line_another_one(make_profile: MakeProfile) -> None:
    folder = make_profile('stops.end = "M30"\nprogram.line_ending = "crlf"\nprogram.block_numbers.use = "every_block"')
    comparison = compared("rs274ngc", folder, "indexed")
    assert [("program_end", "M2", "M30", ("stops.end",))] == changed_rows(comparison)
    assert ("program.line_ending", "program.block_numbers.use") == comparison.programs[0].everywhere


def test_a_program_that_only_one_profile_can_write_names_the_reason(make_profile: MakeProfile) -> None:
    folder = make_profile('cycles.tap = ""')
    comparison = compared("rs274ngc", folder, "tapping")
    assert ("proved", "refused") == tuple(each["outcome"] for each in (comparison.programs[0].first, comparison.programs[0].second))
    assert {("cycles.tap",)} == {row[3] for row in changed_rows(comparison)}


@pytest.mark.parametrize(
    ("first", "second", "name"),
    [("rs274ngc", "limited-clamped", "tapping"), ("radius-arcs", "absolute-centres", "still"), ("upright-c", "rs274ngc", "along_z")],
)
def test_the_way_from_one_profile_ends_at_the_program_of_the_other(first: str, second: str, name: str, tmp_path: Path) -> None:
    one, other = (replace(resolve(each), profile=load_profile(each).model_copy(update={"name": "x"})) for each in (first, second))
    way = list(Way(tour()[name], one, other, changes_between(one, other), tmp_path / "between").steps())
    assert program_parts(tour()[name], other) == way[-1][1]
    assert sorted(changes_between(one, other)) == sorted(change for made, _ in way for change in made)
