"""The setup sheet says what toolpath, profile and program say, and leaves a blank for everything else."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from sheet_parts import PART, Seen, text_of

from steadyrest.cli import main
from steadyrest.posting import post
from steadyrest.request import Request
from steadyrest.sheet import setup_front_fragment, setup_sheet, setup_sheet_fragment, setup_sheet_page


def changed(file: Path, **parts: object) -> Path:
    file.write_text(json.dumps({**PART, **parts}))
    return file


class TestFacts:
    def test_the_stock_sticks_out_by_what_the_cutters_reach_from_the_free_end(self, file: Path) -> None:
        facts = setup_sheet(Request(file, "rs274ngc"))
        assert "stick-out from the jaws: more than 44 mm, measured from the free end at X 0" in facts.stock[3]

    def test_with_the_rotary_at_the_other_end_the_free_end_is_the_other_one(self, file: Path) -> None:
        facts = setup_sheet(Request(file, "rs274ngc", sets=["rotary.A.chuck_faces=-X"]))
        assert "measured from the free end at X -90" in facts.stock[3]

    def test_the_first_screen_of_the_report_says_mounting_stick_out_and_tools(self, file: Path) -> None:
        facts = setup_sheet(Request(file, "rs274ngc"))
        front = setup_front_fragment(facts)
        assert facts.stick_out == facts.stock[3]
        assert 1 == front.count("tick-out from the jaws: more than 44 mm")
        assert facts.mounting is not None
        assert all(sentence in front for sentence in (*facts.mounting.sentences, *facts.stock[:3]))
        assert 2 == front.count('<th scope="row">')
        assert "<td>50</td>" in front
        assert "not given" in front

    def test_a_stick_out_that_nothing_says_is_said_to_be_open(self, file: Path) -> None:
        file.write_text(json.dumps({key: value for key, value in PART.items() if key != "stock"} | {"clearance": 30}))
        facts = setup_sheet(Request(file, "rs274ngc"))
        assert "" == facts.stick_out
        assert "the program does not say how far" in setup_front_fragment(facts)

    def test_lowest_positions_are_those_of_each_tool_in_its_cuts(self, file: Path) -> None:
        assert [17.5, 19] == [tool.lowest for tool in setup_sheet(Request(file, "rs274ngc")).tools]

    def test_positions_are_in_the_units_of_the_toolpath(self, file: Path) -> None:
        inch = {"units": "inch", "stock": {"shape": "round", "diameter": 2, "from": -4, "to": 0}}
        operation = {
            **PART["operations"][0],
            "moves": [{"rapid": [0.2, 0, 1.5]}, {"rapid": [0.2, 0, 0.9]}, {"cut": [-1, 0, 0.9], "feed": 30}],
        }
        tools = [{"number": 3, "shape": "flat", "diameter": 0.25}]
        facts = setup_sheet(Request(changed(file, **inch, tools=tools, operations=[operation]), "rs274ngc"))
        assert pytest.approx(0.9) == facts.tools[0].lowest
        assert ("Z, inch", "0.9", "1.5") == facts.positions[2]

    def test_what_nothing_says_is_a_blank_to_fill_in(self, file: Path) -> None:
        facts = setup_sheet(Request(file, "rs274ngc"))
        assert [50, None] == [one.tool.length for one in facts.tools]
        here, there = (
            setup_sheet_page(facts).count('class="blank"') for facts in (facts, setup_sheet(Request(self_filled(file), "rs274ngc")))
        )
        assert here == there + 1

    def test_origin_and_rotary_centre_say_where_the_axis_lies(self, file: Path) -> None:
        assert "Y 0 and Z 0 are on the axis of rotation" in setup_sheet(Request(file, "rs274ngc")).origin[0]
        assert "X 0 is the + end of the stock (right)" == setup_sheet(Request(file, "rs274ngc")).origin[1]

    def test_turns_of_the_rotary_and_its_swept_radius_are_said(self, file: Path) -> None:
        turning = dict(setup_sheet(Request(file, "rs274ngc")).turning)
        assert "20 mm" == turning["the turning stock reaches this far from the axis"]
        assert re.fullmatch(r"[0-9.]+ turns", turning["rotary turns in all"])

    @pytest.mark.parametrize(
        ("sets", "stands", "goes"),
        [
            ([], "at the left end of the table: its chuck faces to the right (+X)", "the top of the part away from you"),
            (
                ["rotary.A.chuck_faces=-X"],
                "at the right end of the table: its chuck faces to the left (-X)",
                "the top of the part towards you",
            ),
            (["rotary.A.positive_turns_chuck=counterclockwise"], "left end", "the top of the part towards you"),
        ],
    )
    def test_the_mounting_is_said_as_the_operator_sees_it(self, file: Path, sets: list[str], stands: str, goes: str) -> None:
        mounting = setup_sheet(Request(file, "rs274ngc", sets=sets)).mounting
        assert mounting is not None
        assert stands in mounting.sentences[0]
        assert mounting.sentences[2].endswith(goes)

    def test_a_clamp_and_inverse_time_are_cautioned_about_as_the_profile_has_them(self, file: Path) -> None:
        clamped, open_ = setup_sheet(Request(file, "limited-clamped")), setup_sheet(Request(file, "rs274ngc"))
        assert clamped.mounting is not None
        assert "clamped for indexed cuts: M10 on, M11 off" in clamped.mounting.sentences
        assert "the program does not clamp it: only its drive holds the part" in open_.mounting.sentences  # type: ignore[union-attr]

    def test_a_mode_is_cautioned_about_only_where_the_program_uses_it(self, file: Path) -> None:
        assert not any("G93" in line for line in setup_sheet(Request(file, "rs274ngc")).cautions)
        moves = [{"rapid": [-10, 0, 5]}, {"cut": [-10, 0, -1], "feed": 100}, {"cut": [-50, 50, -1]}]
        groove = {**PART["operations"][0], "rotary": {"intent": "wrapped", "diameter": 40}, "moves": moves}
        turning = setup_sheet(Request(changed(file, operations=[groove], tools=PART["tools"][:1]), "rs274ngc"))
        assert any("F under G93 is 1 over minutes" in line for line in turning.cautions)

    def test_a_borrowed_drive_is_named_as_the_display_shows_it(self, file: Path) -> None:
        moves = [{"rapid": [5, 0, 30]}, {"rapid": [5, 0, 17.5]}, {"cut": [-30, 0, 17.5], "feed": 900}]
        flats = {**PART["operations"][0], "rotary": {"intent": "indexed", "angles": [0, 90]}, "moves": moves}
        facts = setup_sheet(Request(changed(file, operations=[flats], tools=PART["tools"][:1]), "y-drives-rotary"))
        rows = {row[0]: row[1:] for row in facts.positions}
        assert ("0", "9") == rows["Y (turns the rotary), mm"]
        assert not {"Y, mm", "A, degrees"} & set(rows)
        assert ("G54  Y", "the rotary's zero") in facts.offsets
        assert ["G54  X", "G54  Z", "G54  Y"] == [name for name, _ in facts.offsets]
        said = text_of(facts)
        assert "Y+ turns the chuck clockwise, looking at its face" in said
        assert "the display shows Y, 36 mm for a full turn" in said
        assert "a small positive Y move turns the way of the arrow" in said

    def test_lengths_of_the_profile_are_read_in_the_parts_units(self, file: Path) -> None:
        inch = {"units": "inch", "stock": {"shape": "round", "diameter": 2, "from": -4, "to": 0}, "tools": PART["tools"][:1]}
        moves = [{"rapid": [0.2, 0, 1.5]}, {"rapid": [0.2, 0, 0.9]}, {"cut": [-1, 0, 0.9], "feed": 30}]
        flats = {**PART["operations"][0], "rotary": {"intent": "indexed", "angles": [0, 90]}, "moves": moves}
        part = changed(file, **inch, operations=[flats])
        retract = ["retract.machine_z=-25.4", "safety.clearance=12.7"]
        facts = setup_sheet(Request(part, "rs274ngc", sets=retract))
        assert ("Z in machine coordinates, inch", "", "-1 (retract)") in facts.positions
        assert "0.5 inch" in dict(facts.turning).values()
        started = setup_sheet(Request(part, "incremental", sets=["program.start_position=[25.4,0,76.2,0]"]))
        assert any("X 1, Y 0, Z 3 inch, A at 0 degrees" in line for line in started.checklist)
        assert "0.142 inch for" not in text_of(started)
        assert "mm" not in re.sub(r"6 mm end mill", "", text_of(facts))

    def test_the_offsets_to_enter_are_those_that_the_program_uses(self, file: Path) -> None:
        names = [name for name, _ in setup_sheet(Request(file, "tip-feed")).offsets]
        assert ["G55  X", "G55  Y", "G55  Z", "G55  A"] == names
        assert ["H3", "H7"] == [tool.offset for tool in setup_sheet(Request(file, "tip-feed")).tools]

    def test_what_the_proof_does_not_see_is_said(self, file: Path) -> None:
        assert "It does not check:" in text_of(setup_sheet(Request(file, "rs274ngc")))

    def test_without_a_rotary_there_is_no_drawing_and_no_turn_check(self, file: Path, tmp_path: Path) -> None:
        folder = tmp_path / "plain-mill"
        folder.mkdir()
        (folder / "controller.toml").write_text('extends = "rs274ngc"\ndrop = ["rotary.A"]\n')
        facts = setup_sheet(Request(changed(file, operations=[PART["operations"][1]]), str(folder)))
        assert facts.mounting is None
        assert "<svg" not in setup_sheet_page(facts)
        assert not any("Turn check" in line for line in facts.checklist)


def self_filled(file: Path) -> Path:
    return changed(file, tools=[PART["tools"][0], {**PART["tools"][1], "length": 30}])


def test_turns_that_the_program_leaves_are_minded_on_the_sheet(tmp_path: Path) -> None:
    moves = [{"rapid": [-10, 0, 5]}, {"cut": [-10, 0, -1], "feed": 100}, {"cut": [-50, -500, -1], "feed": 600}]
    data = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
        "tools": [{"number": 1, "shape": "flat", "diameter": 6}],
        "operations": [
            {
                "tool": 1,
                "spindle": {"rpm": 5000, "turns": "clockwise"},
                "rotary": {"intent": "wrapped", "diameter": 40},
                "moves": moves,
            }
        ],
    }
    file = tmp_path / "groove.toolpath.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    assert "the next part starts by unwinding" in text_of(setup_sheet(Request(file, "rs274ngc")))
    assert "unwinding" not in text_of(setup_sheet(Request(file, "rs274ngc", sets=['rotary.A.unwinding.at_end="zero"'])))


class TestPage:
    def test_it_is_whole_and_fetches_nothing(self, file: Path) -> None:
        page = setup_sheet_page(setup_sheet(Request(file, "rs274ngc")))
        seen = Seen(page)
        assert ([], []) == (seen.open, seen.fetched)
        assert "http" not in page.replace("http-equiv", "")
        assert "<script" not in page
        assert "url(" not in page

    def test_names_from_the_toolpath_can_never_become_markup(self, file: Path) -> None:
        assert "peg &lt;b&gt;&amp; co&lt;/b&gt;" in setup_sheet_page(setup_sheet(Request(file, "rs274ngc")))

    def test_the_fragment_is_one_element_for_another_page(self, file: Path) -> None:
        fragment = setup_sheet_fragment(setup_sheet(Request(file, "rs274ngc")))
        assert fragment.strip().startswith('<section class="setup-sheet">')
        assert fragment.strip().endswith("</section>")
        assert 1 == fragment.count("<section")

    def test_it_prints_on_a4(self, file: Path) -> None:
        assert "@page { size: A4; margin: 7mm; }" in setup_sheet_page(setup_sheet(Request(file, "rs274ngc")))

    def test_file_digest_and_mounting_are_on_it(self, file: Path, tmp_path: Path) -> None:
        posted = post(Request(file, "rs274ngc", tmp_path / "peg.nc"))
        said = text_of(setup_sheet(Request(file, "rs274ngc"), tmp_path / "peg.nc"))
        assert "Setup sheet for peg.nc of peg.toolpath.json" in said
        head = (tmp_path / "peg.nc").read_text()
        for digest in (posted.verdict.toolpath_digest[:16].upper(), posted.verdict.profile_digest[:16].upper()):
            assert digest in head
            assert digest in said
        assert "A+ turns the chuck clockwise, looking at its face" in head
        assert "A+ turns the chuck clockwise, looking at its face" in said


def run(*arguments: str) -> Result:
    result = CliRunner().invoke(main, ["setup-sheet", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result


class TestCommand:
    def test_from_a_toolpath_it_writes_the_page_and_keeps_no_program(self, file: Path, tmp_path: Path) -> None:
        assert 0 == run(str(file), "-o", str(tmp_path / "sheet.html")).exit_code
        assert ["peg.toolpath.json", "sheet.html"] == sorted(each.name for each in tmp_path.iterdir())

    def test_from_a_program_it_names_the_program(self, file: Path, tmp_path: Path) -> None:
        post(Request(file, "rs274ngc", tmp_path / "peg.nc"))
        assert 0 == run(str(tmp_path / "peg.nc"), "-t", str(file), "-o", str(tmp_path / "sheet.html")).exit_code
        assert "Setup sheet for <b>peg.nc</b> of <b>peg.toolpath.json</b>" in (tmp_path / "sheet.html").read_text()

    def test_a_program_that_must_not_run_has_stop_across_its_sheet(self, file: Path, tmp_path: Path) -> None:
        post(Request(file, "rs274ngc", tmp_path / "peg.nc"))
        (tmp_path / "peg.nc").write_text((tmp_path / "peg.nc").read_text().replace("X-30", "X-31"))
        assert 3 == run(str(tmp_path / "peg.nc"), "-t", str(file), "-o", str(tmp_path / "sheet.html")).exit_code
        page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
        assert '<p class="stop-across" aria-hidden="true"></p>' in page
        assert "<b>STOP</b> not proved: do not run it" in page

    def test_a_toolpath_that_is_not_there_is_exit_code_1(self, tmp_path: Path) -> None:
        assert 1 == run(str(tmp_path / "none.json"), "-o", str(tmp_path / "sheet.html")).exit_code

    def test_no_output_is_exit_code_2(self, file: Path) -> None:
        assert 2 == run(str(file)).exit_code
