"""The sheet of a machine with two rotaries, or with a head: what has to be compared with the machine before the first run."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from sheet_parts import text_of

from steadyrest.posting import post_to_memory, prove
from steadyrest.profile import load_profile
from steadyrest.proof import setting_of
from steadyrest.reading import read_program
from steadyrest.request import Request
from steadyrest.sheet import SheetFacts, setup_front_fragment, setup_sheet, setup_sheet_page, sheet_facts

PLANES = Path(__file__).parents[2] / "golden" / "tour" / "planes.toolpath.json"


def test_of_two_rotaries_it_says_the_chain_the_lines_and_how_far_each_one_goes() -> None:
    """The lines by hand: `centre` of the part is Z -2, and the profile measures A from there at Y 0.12, Z 48."""
    facts = setup_sheet(Request(PLANES, "two-in-table", simulate=False))
    said = "\n".join(facts.chain)
    assert "A, on the bed, turns C with the part about X" in said
    assert "A+ turns what it carries clockwise, seen from +X; its axis goes through X 0 Y 0.12 Z 46 mm in work coordinates" in said
    assert "A goes from -90 to 30 degrees of -120 to 30, and turns 120 in all" in said
    assert facts.mounting is None
    assert "the reference point" in facts.origin[0]
    assert ["X", "Y", "Z", "C", "A"] == [name.split()[-1] for name, _ in facts.offsets]
    assert ("A, degrees", "-90", "30") in facts.positions
    assert ("the turning stock reaches this far from the reference point", "82.462 mm") in facts.turning
    assert any("Turn check done for each of C and A" in line for line in facts.checklist)
    assert any("Check the direction of C and A" in line for line in facts.cautions)
    assert "The rotaries as this program assumes them" in text_of(facts)
    assert "A, on the bed, turns C with the part about X" in setup_front_fragment(facts)


def test_of_one_rotary_nothing_of_it_is_said() -> None:
    facts = setup_sheet(Request(PLANES, simulate=False))
    assert () == facts.chain
    assert "The rotaries as this program assumes them" not in text_of(facts)


def of_a_head(folder: Path) -> SheetFacts:
    (folder / "controller.toml").write_text(
        'extends = "rs274ngc"\nspeaks = "One rotary in the head."\nchain = "part bed A spindle"\nrotary.A.pivot = [0, 0, 150]\n'
    )
    asked, program = Request(PLANES, f"{folder}/", simulate=False, gauge_lengths={2: 128.35, 5: 90}), b"%\nG21 G90 G94\nM2\n%\n"
    posted, profile = prove(program, asked), load_profile(folder)
    setting = setting_of(posted.toolpath, profile, None, None, asked.gauge_lengths)
    return sheet_facts(posted, setting, read_program(program, profile))


def test_of_a_head_it_says_the_pivot_and_beside_each_tool_its_gauge_length(tmp_path: Path) -> None:
    facts = of_a_head(tmp_path)
    assert any("its axis goes through X 0 Y 0 Z 150 mm from the gauge point" in line for line in facts.chain)
    assert [(2, 128.35), (5, 90)] == [(one.tool.number, one.gauge_length) for one in facts.tools]
    assert any("Every tool measured to the gauge line" in line for line in facts.checklist)
    assert "gauge length 128.35" in text_of(facts)


def test_withdrawals_inside_cuts_are_counted() -> None:
    posted, text = post_to_memory(Request(PLANES, "two-in-table", simulate=False))
    profile = load_profile("two-in-table")
    notice = replace(posted.notices[0], kind="Reoriented")
    setting = setting_of(posted.toolpath, profile, None, None)
    facts = sheet_facts(replace(posted, notices=(notice, notice)), setting, read_program(text, profile))
    assert "inside cuts the tool is withdrawn along its axis and the rotaries turn, 2 times: watch each of them" in facts.chain


def test_each_rotary_is_said_to_be_clamped_or_not_and_two_rows_of_degrees_fit_beside_the_positions() -> None:
    clamp = 'rotary.A.clamp={use="indexing", on="M10", off="M11"}'
    facts = setup_sheet(Request(PLANES, "two-in-table", sets=(clamp, "rotary.C.clamp.use=never"), simulate=False))
    assert "A is clamped for indexed cuts: M10 on, M11 off" in facts.chain
    assert "the program does not clamp C: only its drive holds it" in facts.chain
    assert '<table class="dense">' in setup_sheet_page(facts)
    for shown in (setup_front_fragment(facts), setup_sheet_page(facts)):
        assert ["as you stand in front of the machine", "from the right-hand side of the machine"] == re.findall(
            "<figcaption>(.*?)<", shown
        )


def test_at_a_start_position_each_rotary_has_its_angle(tmp_path: Path) -> None:
    (tmp_path / "controller.toml").write_text(
        'extends = "incremental"\nspeaks = "Two rotaries in steps."\nchain = "part C A bed spindle"\n'
        "program.start_position = [0, 0, 400, 10, -20]\n"
        'rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise", unwinding = {at_end = "zero"}}\n'
    )
    asked, program = Request(PLANES, f"{tmp_path}/", simulate=False), b"%\nM2\n%\n"
    profile = load_profile(tmp_path)
    posted = prove(program, asked)
    facts = sheet_facts(posted, setting_of(posted.toolpath, profile, None, None), read_program(program, profile))
    assert any("Z 400 mm, C at 10, A at -20 degrees" in line for line in facts.checklist)
