"""The commands that keep dialects: arguments, exit codes, and messages instead of tracebacks."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from profile_tools_parts import MakeProfile, Repository

from steadyrest.cli import main
from steadyrest.profile_tools import tour_folder

TAPPING = str(tour_folder() / "tapping.toolpath.json")


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["controller", *map(str, arguments)], catch_exceptions=False)


@pytest.fixture
def short_tour(monkeypatch: pytest.MonkeyPatch) -> None:
    from steadyrest.profile_tools import tour

    monkeypatch.setattr("steadyrest.profile_tools.checks.tour", lambda: {"tapping": tour()["tapping"]})


@pytest.mark.usefixtures("short_tour")
class TestCheck:
    def test_a_good_profile_ends_with_0(self, make_profile: MakeProfile) -> None:
        result = run("check", make_profile('stops.end = "M30"  # seen at the machine'))
        assert (0, True) == (result.exit_code, "proved" in result.stdout)

    def test_remarks_end_with_1_only_when_strict(self, make_profile: MakeProfile) -> None:
        folder = make_profile('stops.end = "M30"')
        assert (0, 1) == (run("check", folder).exit_code, run("check", folder, "--strict").exit_code)

    def test_a_wrong_profile_ends_with_1(self, make_profile: MakeProfile) -> None:
        result = run("check", make_profile("words.space = true"))
        assert (1, True) == (result.exit_code, "WRONG" in result.stdout)

    def test_a_program_that_is_not_proved_ends_with_3(self, make_profile: MakeProfile) -> None:
        assert 3 == run("check", make_profile(tool_change="{{ words.tool }}\n")).exit_code

    def test_the_results_are_data_on_stdout(self, make_profile: MakeProfile) -> None:
        result = run("check", make_profile("words.space = true"), "--json")
        assert 1 == json.loads(result.stdout)["exit_code"]

    def test_a_name_that_leads_nowhere_ends_with_1_and_its_words(self) -> None:
        result = run("check", "no-such-controller")
        assert (1, True) == (result.exit_code, "there is no profile called" in result.stderr)


class TestCompare:
    def test_two_profiles_alone_show_their_settings(self) -> None:
        result = run("compare", "rs274ngc", "rs274ngc-right-end")
        assert (0, True, False) == (result.exit_code, "rotary.A.chuck_faces" in result.stdout, "==" in result.stdout)

    def test_with_a_toolpath_the_programs_stand_side_by_side(self, make_profile: MakeProfile) -> None:
        result = run("compare", "rs274ngc", make_profile('stops.end = "M30"'), TAPPING)
        assert (0, True) == (result.exit_code, "<- stops.end" in result.stdout)

    def test_a_revision_alone_is_compared_with_what_holds_now(
        self, make_profile: MakeProfile, repository: Repository, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from steadyrest.profile_tools import tour

        monkeypatch.setattr("steadyrest.profile_tools.tour", lambda: {"tapping": tour()["tapping"]})
        folder = make_profile('stops.end = "M30"')
        repository("first")
        make_profile()
        result = run("compare", f"{folder}@HEAD")
        assert (0, True) == (result.exit_code, "1 of 1 programs differ" in result.stdout)

    def test_a_revision_and_a_toolpath_need_no_second_profile(self, make_profile: MakeProfile, repository: Repository) -> None:
        folder = make_profile()
        repository("first")
        result = run("compare", f"{folder}@HEAD", TAPPING, "--json")
        assert [False] == [program["differs"] for program in json.loads(result.stdout)["programs"]]

    def test_all_lines_are_shown_when_asked_for(self) -> None:
        result = run("compare", "rs274ngc", "rs274ngc-right-end", TAPPING, "--all")
        assert "T4 M6" in result.stdout

    @pytest.mark.parametrize("arguments", [("rs274ngc",), ("rs274ngc", "rs274ngc-b", TAPPING, "more")])
    def test_too_few_or_too_many_arguments_are_a_mistake_of_usage(self, arguments: tuple[str, ...]) -> None:
        assert 2 == run("compare", *arguments).exit_code

    def test_a_toolpath_that_is_not_there_ends_with_1(self) -> None:
        assert 1 == run("compare", "rs274ngc", "rs274ngc-b", "none.toolpath.json").exit_code


def test_nothing_heavy_is_imported_before_a_command_runs() -> None:
    heavy = {"numpy", "pydantic", "jinja2", "steadyrest.profile_tools"}
    code = f"import sys, steadyrest.cli.controller; print(sorted({heavy} & set(sys.modules)))"
    assert "[]" == subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()


class TestNew:
    def test_a_profile_is_made_in_the_folder_of_controllers(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        result = run("new", "shop-mill")
        assert (0, "", True) == (result.exit_code, result.stdout, (tmp_path / "controllers" / "shop-mill" / "controller.toml").is_file())

    def test_what_an_example_shows_is_data_on_stdout(self, tmp_path: Path) -> None:
        example = tmp_path / "trusted.nc"
        example.write_text("%\nG21 G90\nG0 X1 Y2\nM30\n%\n", encoding="ascii")
        result = run("new", "shop-mill", "--in", tmp_path, "--by-example", example, "--json")
        claims = {claim["key"]: claim for claim in json.loads(result.stdout)["claims"]}
        assert (0, "M30", 4) == (result.exit_code, claims["stops.end"]["value"], claims["stops.end"]["line"])

    def test_an_existing_folder_ends_with_1_and_its_words(self, make_profile: MakeProfile) -> None:
        folder = make_profile()
        result = run("new", folder.name, "--in", folder.parent)
        assert (1, True) == (result.exit_code, "never overwritten" in result.stderr)

    def test_an_unknown_parent_ends_with_1(self, tmp_path: Path) -> None:
        assert 1 == run("new", "shop-mill", "--in", tmp_path, "--from", "no-such").exit_code


class TestSet:
    def test_a_change_is_shown_and_stored_with_its_source_and_taken_back(self, make_profile: MakeProfile) -> None:
        folder = make_profile("words.spaces = true  # page 3\n")
        result = run("set", folder, "words.spaces=false", 'stops.end="M30"', "--source", "page 12", "--yes")
        assert (0, True) == (result.exit_code, "words.spaces: true -> false" in result.stderr)
        assert 'stops.end = "M30"  # page 12\n' in (folder / "controller.toml").read_text()
        assert 0 == run("set", folder, "--unset", "stops.end", "--yes").exit_code
        assert '# stops.end = "M30"  # page 12\n' in (folder / "controller.toml").read_text()

    def test_without_a_terminal_nothing_is_stored_unless_said(self, make_profile: MakeProfile) -> None:
        folder = make_profile("words.spaces = true\n")
        before = (folder / "controller.toml").read_text()
        assert 2 == run("set", folder, "words.spaces=false").exit_code
        assert before == (folder / "controller.toml").read_text()
        assert 2 == run("set", folder).exit_code
        assert "nothing to store" in run("set", folder, "words.spaces=true").stderr
        result = run("set", folder, "words.space=false", "--yes")
        assert (1, True) == (result.exit_code, "there is no setting words.space" in result.stderr)


class TestNewWithSources:
    def test_a_source_stands_behind_its_setting(self, tmp_path: Path) -> None:
        result = run("new", "shop-mill", "--in", tmp_path, "--set", "stops.end=M30", "--source", "stops.end=manual, page 4")
        assert 0 == result.exit_code
        assert 'stops.end = "M30"  # manual, page 4\n' in (tmp_path / "shop-mill" / "controller.toml").read_text()
        assert 2 == run("new", "other", "--in", tmp_path, "--source", "stops.end").exit_code
