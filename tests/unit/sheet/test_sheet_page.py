"""The setup sheet says what toolpath, profile and program say, and leaves a blank for everything else."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result
from sheet_parts import Seen, text_of

from steadyrest.cli import main
from steadyrest.posting import post
from steadyrest.request import Request
from steadyrest.sheet import setup_sheet, setup_sheet_fragment, setup_sheet_page


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
        assert '<p class="stop-across" aria-hidden="true">STOP</p>' in page
        assert "<b>STOP</b> not proved: do not run it" in page

    def test_a_toolpath_that_is_not_there_is_exit_code_1(self, tmp_path: Path) -> None:
        assert 1 == run(str(tmp_path / "none.json"), "-o", str(tmp_path / "sheet.html")).exit_code

    def test_no_output_is_exit_code_2(self, file: Path) -> None:
        assert 2 == run(str(file)).exit_code
