"""A new profile works at once, states only what is known, and is never put over anything."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from profile_tools_parts import NAMES, MakeProfile

from steadyrest.cli import main
from steadyrest.errors import OutputError, ProfileError, ProgramError, SteadyrestError
from steadyrest.posting import posted_text
from steadyrest.profile import load_profile, resolve
from steadyrest.profile_tools import answered, create, created_text, differences, named_settings, tour
from steadyrest.profile_tools.checks import check_sources
from steadyrest.profile_tools.example import Claim
from steadyrest.profile_tools.new_profile import first_part, questionnaire, questions_text
from steadyrest.profile_tools.proposal import sorted_claims
from steadyrest.profile_tools.settings import Absent, leaves, table_of, value_of
from steadyrest.profile_tools.trial import program_text, tried_gauge_lengths
from steadyrest.toolpath import parse_toolpath


@pytest.fixture
def example(tmp_path: Path) -> Path:
    """A program of limited-clamped."""
    resolved = resolve("limited-clamped")
    program = tmp_path / "trusted.nc"
    program.write_text(program_text(tour()["indexed"], resolved), encoding="ascii")
    return program


def stated(folder: Path) -> dict[str, Any]:
    return leaves(tomllib.loads((folder / "controller.toml").read_text(encoding="utf-8")))


def claim(key: str, value: object, *, sure: bool = True) -> Claim:
    return Claim(key, value, 1, "G0 X1", "seen", sure)


@pytest.mark.parametrize("parent", NAMES)
def test_a_new_profile_of_any_parent_is_the_parent(parent: str, tmp_path: Path) -> None:
    created = create("shop-mill", parent, tmp_path)
    profile = load_profile(created.folder)
    assert load_profile(parent) == profile.model_copy(update={"name": parent, "speaks": load_profile(parent).speaks})
    assert {"controller.toml", "README.md", "first_part.toolpath.json", "test_shop_mill.py"} == {
        each.name for each in created.folder.iterdir()
    }


@pytest.mark.parametrize("parent", NAMES)
def test_the_first_part_is_proved_for_every_parent(parent: str) -> None:
    part = parse_toolpath(first_part(load_profile(parent)))
    assert posted_text(part, parent, gauge_lengths=tried_gauge_lengths(part, load_profile(parent)))


def test_the_shops_own_test_passes_by_pytest_alone(tmp_path: Path) -> None:
    folder = create("shop-mill", "rs274ngc", tmp_path, sets=["rotary.A.chuck_faces=-X"]).folder
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir", str(folder), "test_shop_mill.py"]
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
    )
    assert (0, True, True) == (done.returncode, "1 passed" in done.stdout, "2 skipped" in done.stdout)


@pytest.mark.parametrize("parent", ["rs274ngc", "upright-c"])
def test_the_commands_in_the_readme_run_as_they_stand(parent: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    create("shop-mill", parent, Path("our controllers"))
    for command in ("git init -q", "git add -A", "git -c user.name=a -c user.email=a@b.example commit -q -m begin"):
        subprocess.run(command.split(), check=True)
    readme = Path("our controllers/shop-mill/README.md").read_text(encoding="utf-8")
    lines = readme.split("```sh\n")[1].split("```")[0].splitlines()
    lines += re.findall(r"`(steadyrest controller compare [^`]*)`", readme)
    assert 5 == len(lines)
    for line in lines:
        if line == "pytest --update-goldens":  # known to the plug-in; what it does has tests of its own
            arguments = [sys.executable, "-m", *line.split(), "--collect-only", "-q", "-p", "no:cacheprovider"]
            assert 0 == subprocess.run(arguments, check=False, capture_output=True).returncode
            continue
        done = CliRunner().invoke(main, shlex.split(line)[1:])
        assert 0 == done.exit_code, (line, done.output)


@pytest.mark.parametrize(
    ("faces", "line", "expected"),
    [("-X", "G0 A-90", "3 passed"), ("-X", "G0 A90", "1 failed, 2 passed"), ("+X", "G0 A-90", "1 failed, 2 passed")],
    ids=["as seen", "another line", "another mounting"],
)
def test_once_the_mounting_was_seen_the_shops_own_test_holds_to_it(faces: str, line: str, expected: str, tmp_path: Path) -> None:
    folder = create("shop-mill", "rs274ngc", tmp_path, sets=["rotary.A.chuck_faces=-X"]).folder
    test = folder / "test_shop_mill.py"
    text = test.read_text(encoding="utf-8")
    assert 'for example {"A": ("-X", "clockwise")}' in text
    assert 'with the mounting above: "G0 A-90"' in text
    text = text.replace("= {}", f'= {{"A": ("{faces}", "clockwise")}}').replace('SECOND_FACE = ""', f'SECOND_FACE = "{line}"')
    test.write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir", str(folder), test.name]
    assert expected in subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False).stdout


def test_words_without_spaces_leave_the_shops_own_test_as_it_is(tmp_path: Path) -> None:
    for name, sets in (("one-mill", []), ("other-mill", ["words.spaces=false", "rotary.A.positive_turns_chuck=counterclockwise"])):
        create(name, "rs274ngc", tmp_path, sets=sets)
    one, other = (
        (tmp_path / name / f"test_{name.replace('-', '_')}.py").read_text(encoding="utf-8") for name in ("one-mill", "other-mill")
    )
    asserted = [[line for line in text.splitlines() if line.lstrip().startswith("assert")] for text in (one, other)]
    assert asserted[0] == asserted[1]


def test_the_shops_own_test_notices_a_changed_end(tmp_path: Path) -> None:
    folder = create("shop-mill", "rs274ngc", tmp_path).folder
    file = folder / "controller.toml"
    file.write_text(file.read_text(encoding="utf-8") + 'stops.end = "M30"\n', encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir", str(folder), "test_shop_mill.py"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert (1, True) == (done.returncode, "1 failed" in done.stdout)


def test_known_differences_are_stated_with_a_place_for_their_source(tmp_path: Path) -> None:
    folder = create("shop-mill", "rs274ngc", tmp_path, sets=["rotary.A.chuck_faces=-X", "words.spaces=false"]).folder
    assert {"extends", "speaks", "rotary.A.chuck_faces", "words.spaces"} == set(stated(folder))
    assert {"good"} == {result.level for result in check_sources(folder)}


def test_each_setting_that_stands_as_a_comment_can_be_made_one(tmp_path: Path) -> None:
    file = create("shop-mill", "rs274ngc", tmp_path).folder / "controller.toml"
    text = file.read_text(encoding="utf-8")
    lines = [line.removeprefix("# ") if line.startswith("# ") and " = " in line else line for line in text.splitlines()]
    file.write_text("\n".join(lines), encoding="utf-8")
    assert {"rotary.A.chuck_faces", "feed.per_minute_counts", "stops.end"} <= set(stated(file.parent))
    assert load_profile(file.parent).rotary


def test_what_an_example_shows_is_stated_with_its_line(tmp_path: Path, example: Path) -> None:
    folder = create("shop-mill", "rs274ngc", tmp_path, example=example).folder
    assert {
        "program.comments.style": "semicolon",
        "stops.end": "M30",
        "rotary.A.clamp.on": "M10",
        "retract.machine_z": -1,
    }.items() <= stated(folder).items()
    end = next(number for number, line in enumerate(example.read_text(encoding="utf-8").splitlines(), 1) if "M30" in line)
    assert f'stops.end = "M30"  # line {end}: M30 (the end of the program)' in (folder / "controller.toml").read_text(encoding="utf-8")
    assert {"good"} == {result.level for result in check_sources(folder)}


def test_what_an_example_shows_as_the_parent_has_it_is_not_stated_again(tmp_path: Path, example: Path) -> None:
    created = create("shop-mill", "rs274ngc", tmp_path, example=example)
    assert "words.spaces" not in stated(created.folder)
    assert "`words.spaces = true`" in (created.folder / "README.md").read_text(encoding="utf-8")


def test_what_an_example_cannot_show_is_said_in_the_readme_and_on_the_screen(tmp_path: Path, example: Path) -> None:
    created = create("shop-mill", "rs274ngc", tmp_path, example=example)
    for text in (created_text(created), (created.folder / "README.md").read_text(encoding="utf-8")):
        assert "how the rotary is mounted" in text
        assert "how many decimals the numbers of kind angle have" in text


def test_what_is_said_by_whoever_asks_wins_over_the_example(tmp_path: Path, example: Path) -> None:
    folder = create("shop-mill", "rs274ngc", tmp_path, example=example, sets=["stops.end=M2"]).folder
    assert "M2" == load_profile(folder).stops.end


def test_a_claim_that_is_only_likely_waits_for_an_answer() -> None:
    stated, asked, _ = sorted_claims([claim("numbers.length.point", "counts", sure=False)], load_profile("rs274ngc"), {}, lambda _: "")
    assert ([], ["only likely"]) == (stated, [reason for _, reason in asked])


def test_claims_that_need_each_other_are_stated_together() -> None:
    claims = [claim("arcs.form", "radius"), claim("arcs.full_circles", False)]
    assert 2 == len(sorted_claims(claims, load_profile("rs274ngc"), {}, lambda _: "")[0])


def test_a_claim_that_cannot_stand_with_the_others_waits_with_the_reason() -> None:
    claims = [claim("words.distance", "incremental"), claim("stops.end", "M30")]
    stated, asked, _ = sorted_claims(claims, load_profile("rs274ngc"), {}, lambda _: "")
    assert (["stops.end"], ["words.distance"]) == ([each.key for each in stated], [each.key for each, _ in asked])
    assert "need a start position" in asked[0][1]


def test_a_claim_about_a_rotary_that_the_parent_lacks_waits() -> None:
    _, asked, _ = sorted_claims([claim("rotary.B.clamp.on", "M10")], load_profile("rs274ngc"), {}, lambda _: "")
    assert "state how it is mounted first" in asked[0][1]


def test_a_claim_with_which_no_program_is_proved_waits() -> None:
    stated, asked, _ = sorted_claims(
        [claim("stops.end", "M30"), claim("spindle.stop", "M05")],
        load_profile("rs274ngc"),
        {},
        lambda profile: "refused" if profile.spindle.stop == "M05" else "",
    )
    assert (["stops.end"], ["spindle.stop"]) == ([each.key for each in stated], [each.key for each, _ in asked])


def test_an_existing_folder_is_never_overwritten(tmp_path: Path) -> None:
    (tmp_path / "shop-mill").mkdir()
    (tmp_path / "shop-mill" / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="never overwritten"):
        create("shop-mill", "rs274ngc", tmp_path)
    assert ["mine.txt"] == [each.name for each in (tmp_path / "shop-mill").iterdir()]


def test_after_a_refusal_nothing_is_left_behind(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="there is no setting"):
        create("shop-mill", "rs274ngc", tmp_path / "controllers", sets=["words.space=true"])
    with pytest.raises(ProgramError, match=r"(?i)no such file"):
        create("shop-mill", "rs274ngc", tmp_path / "controllers", example=tmp_path / "none.nc")
    assert not (tmp_path / "controllers").exists()


@pytest.mark.parametrize("name", ["Corner Mill", "../up", "mill_1", "", "-mill"])
def test_names_are_small_letters_digits_and_hyphens(name: str, tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="cannot be the name of a profile"):
        create(name, "rs274ngc", tmp_path)


def test_a_name_that_is_bundled_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="there is a bundled profile called"):
        create("plain-lines", "rs274ngc", tmp_path)


def test_a_parent_by_its_path_is_found_from_the_new_folder(make_profile: MakeProfile, tmp_path: Path) -> None:
    parent = make_profile('stops.end = "M30"', name="shop-parent")
    folder = create("child", str(parent), tmp_path / "elsewhere").folder
    assert "M30" == load_profile(folder).stops.end


def test_a_parent_beside_the_new_folder_is_named(make_profile: MakeProfile) -> None:
    parent = make_profile('stops.end = "M30"', name="shop-parent")
    folder = create("child", "shop-parent", parent.parent).folder
    assert "shop-parent" == stated(folder)["extends"]


@pytest.mark.parametrize("name", NAMES)
def test_the_questions_are_about_settings_that_there_are(name: str) -> None:
    profile = load_profile(name)
    keys = {key for _, question in questionnaire(profile) for key in question["keys"]}
    assert set() == {key for key in keys if isinstance(value_of(profile, key), Absent)}


def test_the_questions_lead_from_what_can_be_seen_to_the_settings() -> None:
    text = questions_text(load_profile("rs274ngc-b"))
    for setting in (
        '`rotary.B.chuck_faces = "+Y"`',
        '`rotary.B.positive_turns_chuck = "clockwise"`',
        '`feed.per_minute_counts = "all_axes"`',
        "`stops.end",
    ):
        assert setting in text


def test_the_time_of_a_full_turn_while_x_moves_tells_what_f_counts() -> None:
    # 100 mm and 360 degrees at F100: a minute for the linear axes alone, the root of both squared where a degree is a mm.
    minutes, seconds = divmod(round((100**2 + 360**2) ** 0.5 / 100 * 60), 60)
    assert f"about {minutes} minutes {seconds} seconds" in questions_text(load_profile("rs274ngc"))


def test_what_would_be_made_is_what_is_made_with_each_source_behind_its_line(example: Path, tmp_path: Path) -> None:
    given = {"sets": ["stops.end=M2", "words.spaces=false"], "sources": {"stops.end": "Handbuch, S. 12\n(Übersicht)"}, "example": example}
    before = create("shop-mill", "rs274ngc", tmp_path, **given, make=False)  # type: ignore[arg-type]
    assert not before.folder.exists()
    made = create("shop-mill", "rs274ngc", tmp_path, **given)  # type: ignore[arg-type]
    assert before.text == (made.folder / "controller.toml").read_text(encoding="utf-8")
    assert {"speaks"} == set(differences(before.profile, load_profile(made.folder)))
    assert 'stops.end = "M2"  # Handbuch, S. 12 (Übersicht)\n' in before.text
    assert "words.spaces = false  # stated when this file was made: say here where it was seen\n" in before.text
    with pytest.raises(OutputError, match="exists already"):
        create("shop-mill", "rs274ngc", tmp_path, make=False)


def test_what_cannot_be_written_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    for make in (False, True):
        with pytest.raises(SteadyrestError, match="decimals"):
            create("shop-mill", "rs274ngc", tmp_path, sets=["numbers.length.decimals=99"], make=make)
        narrow = ["rotary.A.travel.kind=limited", "rotary.A.travel.from=-10", "rotary.A.travel.to=10"]
        with pytest.raises(SteadyrestError, match="travel"):
            create("shop-mill", "rs274ngc", tmp_path, sets=narrow, make=make)
    assert [] == list(tmp_path.iterdir())


@pytest.mark.parametrize("parent", NAMES)
def test_each_answer_of_the_questionnaire_leads_to_settings_that_there_are(parent: str) -> None:
    profile = load_profile(parent)
    known = leaves(table_of(profile))
    for _, question in questionnaire(profile):
        values = {key: value for _, settings in question["answers"] for key, value in answered(settings).items()}
        assert set() == values.keys() - set(named_settings(question))
        assert all(isinstance(value, type(known[key])) or known[key] is None for key, value in values.items() if key in known)
    assert {"feed.inverse_code": "", "feed.rotary": "per_minute"} == answered('feed.inverse_code = "", and feed.rotary = "per_minute"')
    assert {} == answered("feed.largest_mm, feed.largest_inch")


C = {"along": "Z", "chuck_faces": "+Z", "positive_turns_chuck": "clockwise"}
TWO = [f"rotary.C.{key}={value}" for key, value in C.items()]


def test_of_two_rotaries_it_is_asked_which_one_carries_what_and_where_each_runs(tmp_path: Path) -> None:
    loose, chained = load_profile("rs274ngc", TWO), load_profile("rs274ngc", [*TWO, "chain=part C A bed spindle"])
    for profile in (loose, chained):
        question = next(each for _, each in questionnaire(profile) if each["keys"] == ["chain"])
        values = [answered(settings)["chain"] for _, settings in question["answers"]]
        assert ["", "part A C bed spindle", "part C A bed spindle"] == values[:3]
        assert set(values[3:]) == {"part A bed C spindle", "part C bed A spindle", "part bed A C spindle", "part bed C A spindle"}
    looks = [each["look"] for _, each in questionnaire(chained)]
    assert [f"Where does the axis of {letter} run" for letter in "AC"] == [
        look[:28] for look in looks if look.startswith("Where does the axis")
    ]
    assert not any("face of the chuck point" in look for look in looks)
    for alone in (loose, load_profile("rs274ngc")):
        assert not any("Where does the axis" in each["look"] for _, each in questionnaire(alone))
    assert "chain" not in {key for _, each in questionnaire(load_profile("rs274ngc")) for key in each["keys"]}


def test_a_new_profile_of_two_rotaries_checks_each_and_its_first_part_is_proved(tmp_path: Path) -> None:
    folder = create("cradle", "rs274ngc", tmp_path, sets=[*TWO, "chain=part C A bed spindle"]).folder
    readme = (folder / "README.md").read_text(encoding="utf-8")
    assert ["--rotary A --output turna.nc", "--rotary C --output turnc.nc"] == re.findall(r"--rotary \w --output \S+", readme)
    assert 'Now: `chain = "part C A bed spindle"`' in readme
    assert "part C A bed spindle" == load_profile(folder).chain


def test_a_new_profile_of_a_head_asks_for_the_length_of_its_tool_where_one_is_needed(tmp_path: Path) -> None:
    folder = create("leaner", "head-and-table", tmp_path).folder
    assert "--output first_part.nc --tool-length 1=LENGTH" in (folder / "README.md").read_text(encoding="utf-8")
    assert ", gauge_lengths={1: 100.0})" in (folder / "test_leaner.py").read_text(encoding="utf-8")
    assert "--tool-length" not in (create("plain", "rs274ngc", tmp_path).folder / "README.md").read_text(encoding="utf-8")


def test_an_example_that_turns_two_rotaries_leaves_open_which_one_carries_the_other(tmp_path: Path) -> None:
    example = tmp_path / "two.nc"
    example.write_text("G21 G90\nG0 A30 C45\nG1 X1 Y2 F100\nM30\n", encoding="ascii")
    _, *told = created_text(create("cradle", "rs274ngc", tmp_path, example=example)).partition("it does not show:")
    assert "which of A and C carries what: describe each in a table, and state `chain` if both are mounted at once" in told[1]
