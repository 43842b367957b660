"""What pytest finds in a shop's repository by itself, and what it says when something is wrong there."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from steadyrest import contract

pytest_plugins = ["pytester"]

TOUR = Path(__file__).parents[1] / "golden" / "tour"
GOOD = 'extends = "rs274ngc"\nspeaks = "A mill of ours, for the tests."\n'
Make = Callable[..., Path]


@pytest.fixture
def shop(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Make:
    """A shop's repository with a profile `ours`, on a tour of two toolpaths, one of which the profile cannot cut."""
    small = tmp_path / "tour"
    small.mkdir()
    for name in ("indexed", "along_y"):
        shutil.copy(TOUR / f"{name}.toolpath.json", small)
    monkeypatch.setattr(contract, "tour_folder", lambda: small)

    def make(text: str = GOOD, templates: dict[str, str] | None = None) -> Path:
        folder = pytester.path / "controllers" / "ours"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "controller.toml").write_text(text, encoding="utf-8")
        for name, source in (templates or {}).items():
            (folder / "templates").mkdir(exist_ok=True)
            (folder / "templates" / name).write_text(source, encoding="utf-8")
        return folder

    return make


def run(pytester: pytest.Pytester, *arguments: str) -> pytest.RunResult:
    return pytester.runpytest_inprocess("-q", "-p", "no:cacheprovider", "-p", "no:xdist", *arguments)


def test_every_fact_of_a_profile_is_a_test(shop: Make, pytester: pytest.Pytester) -> None:
    shop()
    result = run(pytester, "--collect-only")
    names = [line.partition("::")[2] for line in result.outlines if line.startswith("controllers/ours/controller.toml::")]
    assert [
        "settings",
        "templates",
        "sources",
        "writes",
        "tour[along_y]",
        "tour[indexed]",
        "golden[tour-along_y]",
        "golden[tour-indexed]",
        "goldens_left",
    ] == names


def test_the_shops_own_toolpaths_are_posted_too(shop: Make, pytester: pytest.Pytester) -> None:
    shop()
    own = pytester.path / "toolpaths"
    own.mkdir()
    shutil.copy(TOUR / "still.toolpath.json", own / "bracket.toolpath.json")
    run(pytester, "-k", "bracket", "--update-goldens").assert_outcomes(passed=2, deselected=9)
    text = (pytester.path / "controllers" / "ours" / "goldens" / "toolpaths" / "bracket.golden").read_text()
    assert "(toolpath bracket.toolpath.json)" in text


def test_a_controller_toml_outside_of_a_controllers_folder_is_left_alone(pytester: pytest.Pytester) -> None:
    folder = pytester.path / "elsewhere" / "ours"
    folder.mkdir(parents=True)
    (folder / "controller.toml").write_text("nonsense", encoding="utf-8")
    run(pytester).assert_outcomes()


def test_a_missing_golden_fails_and_says_how_it_is_made(shop: Make, pytester: pytest.Pytester) -> None:
    folder = shop()
    result = run(pytester, "-k", "golden and indexed")
    result.assert_outcomes(failed=1, deselected=8)
    result.stdout.fnmatch_lines(["*there is no golden file controllers/ours*", "to accept it: pytest --update-goldens '*'"])
    assert not (folder / "goldens").exists()


def test_goldens_are_written_then_hold_and_the_summary_names_them(shop: Make, pytester: pytest.Pytester) -> None:
    folder = shop()
    result = run(pytester, "--update-goldens")
    result.assert_outcomes(passed=9)
    result.stdout.fnmatch_lines(["written: controllers/ours/goldens/tour/indexed.golden"])
    assert b"G0 A60\n" in (folder / "goldens" / "tour" / "indexed.golden").read_bytes()
    run(pytester).assert_outcomes(passed=9)


def test_a_refusal_is_a_golden_too_the_same_on_every_machine(shop: Make, pytester: pytest.Pytester) -> None:
    folder = shop()
    run(pytester, "--update-goldens", "-k", "along_y").assert_outcomes(passed=2, deselected=7)
    text = (folder / "goldens" / "tour" / "along_y.golden").read_text()
    assert text.startswith("refused: PlanError: along_y.toolpath.json, axis: the toolpath turns about Y, and ours has no rotary along Y")
    assert str(folder.parents[1]) not in text


def test_a_setting_that_changes_no_word_of_a_program_changes_no_golden(shop: Make, pytester: pytest.Pytester) -> None:
    shop()
    run(pytester, "--update-goldens")
    shop(GOOD + "tool.largest = 80  # counted the places in the changer\n")
    run(pytester).assert_outcomes(passed=9)


def test_a_difference_is_shown_short_with_the_command_to_accept_it(shop: Make, pytester: pytest.Pytester) -> None:
    shop()
    run(pytester, "--update-goldens")
    shop(GOOD + 'coolant.flood = "M7"  # read on the plate\ncoolant.mist = ""  # the same\n')
    result = run(pytester, "-k", "golden and indexed")
    result.assert_outcomes(failed=1, deselected=8)
    result.stdout.fnmatch_lines(["--- as it was", "+++ as written now", "-M8", "+M7", "to accept it: pytest --update-goldens *"])
    assert "Traceback" not in result.stdout.str()
    assert len(result.outlines) < 60


def test_the_command_that_a_difference_prints_accepts_it_and_nothing_else(shop: Make, pytester: pytest.Pytester) -> None:
    folder = shop()
    run(pytester, "--update-goldens")
    refusal = folder / "goldens" / "tour" / "along_y.golden"
    refusal.write_text("another\n")
    shop(GOOD + "numbers.length.trailing_zeros = true  # every trusted program\nnumbers.length.point = 'always'  # the same\n")
    said = next(line for line in run(pytester).outlines if line.startswith("to accept it") and "indexed" in line)
    option, node = re.findall(r"(--update-goldens) '(.+)'", said)[0]
    run(pytester, option, node).assert_outcomes(passed=1)
    run(pytester, "-k", "golden and indexed").assert_outcomes(passed=1, deselected=8)
    assert "another\n" == refusal.read_text()


def test_line_endings_alone_are_told_as_such(shop: Make, pytester: pytest.Pytester) -> None:
    folder = shop()
    run(pytester, "--update-goldens")
    file = folder / "goldens" / "tour" / "indexed.golden"
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    run(pytester, "-k", "golden and indexed").stdout.fnmatch_lines(["*differs in its line endings only*"])


UNPROVED = {"index.j2": "{{ motion }}\nG0 Z-5\n"}


def test_a_program_that_is_not_proved_fails_and_is_never_kept(shop: Make, pytester: pytest.Pytester) -> None:
    folder = shop()
    run(pytester, "--update-goldens")
    kept = (folder / "goldens" / "tour" / "indexed.golden").read_bytes()
    shop(templates=UNPROVED)
    result = run(pytester, "-k", "indexed", "--update-goldens")
    result.assert_outcomes(failed=2, deselected=7)
    result.stdout.fnmatch_lines(["*indexed on ours: the program is not proved*"])
    assert kept == (folder / "goldens" / "tour" / "indexed.golden").read_bytes()


def test_a_golden_of_a_toolpath_that_is_gone_fails_and_is_deleted_on_request(shop: Make, pytester: pytest.Pytester) -> None:
    folder = shop()
    old = folder / "goldens" / "toolpaths" / "old_part.golden"
    old.parent.mkdir(parents=True)
    old.write_text("x\n")
    result = run(pytester, "-k", "goldens_left")
    result.assert_outcomes(failed=1, deselected=8)
    result.stdout.fnmatch_lines(["*controllers/ours/goldens/toolpaths/old_part.golden"])
    result = run(pytester, "-k", "goldens_left", "--update-goldens")
    result.assert_outcomes(passed=1, deselected=8)
    result.stdout.fnmatch_lines(["deleted: controllers/ours/goldens/toolpaths/old_part.golden"])
    assert not old.exists()


def test_a_wrong_setting_is_told_once_with_its_line_and_the_rest_is_skipped(shop: Make, pytester: pytest.Pytester) -> None:
    shop(GOOD + "words.space = false  # looked at it\n")
    result = run(pytester)
    result.assert_outcomes(failed=1, skipped=8)
    result.stdout.fnmatch_lines(["*controller.toml:3, words.space: there is no setting words.space*"])


def test_a_setting_without_a_source_fails_and_is_named_with_its_line(shop: Make, pytester: pytest.Pytester) -> None:
    shop(GOOD + "words.spaces = false\n")
    result = run(pytester, "-k", "sources")
    result.assert_outcomes(failed=1, deselected=8)
    result.stdout.fnmatch_lines(["words.spaces: line 3 gives no source for this value*"])


@pytest.mark.parametrize(
    ("name", "source", "said"),
    [
        ("tool_change.j2", "{{ words.tol }}\n", "*unknown name 'words.tol'*"),
        ("tool_change.j2", "{% if %}\n", "*syntax error*"),
        ("tool_change.j2", "{{ facts.number + 1 }}\n", "*a template does no arithmetic*"),
        ("tool_chang.j2", "M6\n", "*no event has this name, and no template includes it*"),
    ],
)
def test_a_template_that_is_wrong_or_has_no_use_fails(shop: Make, pytester: pytest.Pytester, name: str, source: str, said: str) -> None:
    shop(templates={name: source})
    result = run(pytester, "-k", "templates")
    result.assert_outcomes(failed=1, deselected=8)
    result.stdout.fnmatch_lines([said])


def test_a_profile_for_which_nothing_can_be_written_fails(shop: Make, pytester: pytest.Pytester) -> None:
    shop(GOOD + 'drop = ["rotary.A"]\n')
    result = run(pytester, "-k", "writes")
    result.assert_outcomes(failed=1, deselected=8)
    result.stdout.fnmatch_lines(["not one toolpath of the tour can be written for this profile*"])


def test_a_toolpath_of_the_shop_that_is_wrong_fails_in_its_own_words(shop: Make, pytester: pytest.Pytester) -> None:
    shop()
    own = pytester.path / "toolpaths"
    own.mkdir()
    broken = json.loads((TOUR / "still.toolpath.json").read_text())
    broken["operations"][0]["tool"] = 77
    (own / "bracket.toolpath.json").write_text(json.dumps(broken), encoding="utf-8")
    result = run(pytester, "-k", "toolpaths and bracket and not golden")
    result.assert_outcomes(failed=1, deselected=10)
    result.stdout.fnmatch_lines(["*bracket.toolpath.json*there is no tool 77*"])


def test_a_refusal_that_is_the_profiles_fault_is_no_proper_one(shop: Make, pytester: pytest.Pytester) -> None:
    shop(templates={"index.j2": "(no motion)\n"})
    result = run(pytester, "-k", "tour and indexed and not golden")
    result.assert_outcomes(failed=1, deselected=8)
    result.stdout.fnmatch_lines(["*refused, and not because the controller cannot do it*", "*the template index.j2 left out*"])


def test_a_program_is_tried_once_for_all_its_facts(shop: Make, pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> None:
    tried = []
    real = contract.try_out

    def counted(toolpath: object, *arguments: object) -> object:
        tried.append(getattr(toolpath, "name", ""))
        return real(toolpath, *arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(contract, "try_out", counted)
    shop()
    run(pytester, "--update-goldens").assert_outcomes(passed=9)
    assert 2 == len(tried)


def test_the_plug_in_imports_nothing_of_steadyrest_before_a_profile_is_met() -> None:
    code = (
        "import sys, steadyrest.pytest_plugin; print(sorted(n for n in sys.modules if n.startswith('steadyrest')), 'numpy' in sys.modules)"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "['steadyrest', 'steadyrest.pytest_plugin'] False" == result.stdout.strip()


def test_pytest_is_no_dependency_of_the_package() -> None:
    from importlib.metadata import requires

    plain = [each for each in requires("steadyrest") or [] if "extra ==" not in each]
    assert [] == [each for each in plain if re.match(r"(pytest|hypothesis)", each)]
