"""The two facts go into the shop's own controller.toml, and nothing else of the file changes."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from steadyrest.cli import main
from steadyrest.errors import OutputError, ProfileError
from steadyrest.profile import bundled_folder, load_profile, resolve
from steadyrest.profile_tools import store
from steadyrest.turn_check import Mounting, planned_change

SEEN = Mounting("-X", "counterclockwise")

LAYOUTS = {
    "a heading": """# our mill
extends = "rs274ngc"

[rotary.A]   # the rotary
chuck_faces    = "+X"     # left end, looked at it
positive_turns_chuck = 'clockwise'

[safety]
clearance = 10 # mm
""",
    "dotted keys": """extends = "rs274ngc"
rotary.A.chuck_faces = "+X"  # left end
rotary.A.positive_turns_chuck = "clockwise"
safety.clearance = 10
""",
    "one fact only": """extends = "rs274ngc"
[rotary.A]
chuck_faces = "+X" # left end
""",
    "an inline table": """extends = "rs274ngc"
rotary.A = { chuck_faces = "+X", positive_turns_chuck = "clockwise" }
""",
    "no rotary": """extends = "rs274ngc"
# nothing here yet

[words]
spaces = false
""",
    "dotted below a heading": """extends = "rs274ngc"
[rotary]
A.chuck_faces = "+X" # left end
""",
    "windows line ends": 'extends = "rs274ngc"\r\n[rotary.A]\r\nchuck_faces = "+X" # left\r\npositive_turns_chuck = "clockwise"\r\n',
    "another rotary below a heading": """extends = "rs274ngc"
[rotary]
B = { along = "Y", chuck_faces = "+Y", positive_turns_chuck = "clockwise" }
""",
    "a list over several lines": """extends = "rs274ngc"
program.safe_start = [
    "G17 G40",  # [two blocks]
    "G49 G80",
]
""",
    "travel before": """extends = "rs274ngc"

[rotary.A.travel]
kind = "limited"  # cable
from = -360
to = 360
""",
}


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def profile_with(text: str, tmp_path: Path) -> Path:
    folder = tmp_path / "our-mill"
    folder.mkdir()
    (folder / "controller.toml").write_bytes(text.encode())
    return folder


def own(tmp_path: Path, name: str) -> Path:
    return tmp_path / "config" / "steadyrest" / "controllers" / name / "controller.toml"


@pytest.mark.parametrize("layout", LAYOUTS)
class TestEveryLayout:
    def test_the_profile_says_what_was_seen(self, layout: str, tmp_path: Path) -> None:
        folder = profile_with(LAYOUTS[layout], tmp_path)
        store(planned_change(str(folder), "A", SEEN))
        rotary = load_profile(folder).rotary["A"]
        assert SEEN == Mounting(rotary.chuck_faces, rotary.positive_turns_chuck)

    def test_nothing_else_of_what_it_states_changes(self, layout: str, tmp_path: Path) -> None:
        folder = profile_with(LAYOUTS[layout], tmp_path)
        store(planned_change(str(folder), "A", SEEN))
        expected = tomllib.loads(LAYOUTS[layout].replace("\r\n", "\n"))
        expected.setdefault("rotary", {}).setdefault("A", {}).update(chuck_faces="-X", positive_turns_chuck="counterclockwise")
        assert expected == tomllib.loads((folder / "controller.toml").read_text())

    def test_every_line_without_one_of_the_two_values_stays_as_it_was(self, layout: str, tmp_path: Path) -> None:
        folder = profile_with(LAYOUTS[layout], tmp_path)
        store(planned_change(str(folder), "A", SEEN))
        after = (folder / "controller.toml").read_bytes().decode().splitlines(keepends=True)
        kept = [line for line in LAYOUTS[layout].splitlines(keepends=True) if line.strip() and "chuck" not in line]
        assert sorted(kept) == sorted(line for line in after if line in kept)

    def test_comments_beside_the_values_stay(self, layout: str, tmp_path: Path) -> None:
        folder = profile_with(LAYOUTS[layout], tmp_path)
        store(planned_change(str(folder), "A", SEEN))
        after = (folder / "controller.toml").read_text()
        assert [] == [line for line in LAYOUTS[layout].splitlines() if "#" in line and line[line.index("#") :] not in after]

    def test_a_line_that_is_written_says_where_its_value_was_seen(self, layout: str, tmp_path: Path) -> None:
        folder = profile_with(LAYOUTS[layout], tmp_path)
        store(planned_change(str(folder), "A", SEEN, seen="turn check, in March"))
        written = set((folder / "controller.toml").read_text().splitlines()) - set(LAYOUTS[layout].splitlines())
        assert [] == [line for line in written if "chuck" in line and not line.endswith("turn check, in March")]
        assert any("chuck" in line for line in written)

    def test_a_setting_may_be_added_by_its_full_name_afterwards(self, layout: str, tmp_path: Path) -> None:
        if "[rotary" in LAYOUTS[layout] or "A = {" in LAYOUTS[layout]:
            return  # a shop that keeps to headings goes on with them
        folder = profile_with(LAYOUTS[layout], tmp_path)
        store(planned_change(str(folder), "A", SEEN))
        file = folder / "controller.toml"
        file.write_text('rotary.A.travel.kind = "rollover"\n' + file.read_text())
        assert ("rollover", "-X") == (load_profile(folder).rotary["A"].travel.kind, load_profile(folder).rotary["A"].chuck_faces)

    def test_storing_the_same_again_changes_nothing(self, layout: str, tmp_path: Path) -> None:
        folder = profile_with(LAYOUTS[layout], tmp_path)
        store(planned_change(str(folder), "A", SEEN))
        assert not planned_change(str(folder), "A", SEEN).needed


def test_a_comment_that_waits_for_the_fact_becomes_it(tmp_path: Path) -> None:
    text = 'extends = "rs274ngc"\n# As before:\n# rotary.A.chuck_faces = "+X"\n# words.spaces = true\n'
    folder = profile_with(text, tmp_path)
    store(planned_change(str(folder), "A", SEEN, seen="looked"))
    lines = (folder / "controller.toml").read_text().splitlines()
    assert 'rotary.A.chuck_faces = "-X"  # looked' == lines[2]
    assert 'rotary.A.positive_turns_chuck = "counterclockwise"  # looked' == lines[4]


def test_planning_a_change_writes_nothing(tmp_path: Path) -> None:
    folder = profile_with(LAYOUTS["a heading"], tmp_path)
    planned_change(str(folder), "A", SEEN)
    assert LAYOUTS["a heading"] == (folder / "controller.toml").read_text()


def test_the_change_is_shown_with_the_facts_before_and_after_and_the_lines() -> None:
    text = planned_change("rs274ngc", "A", SEEN).text()
    assert "rotary.A.chuck_faces: +X -> -X" in text
    assert "rotary.A.positive_turns_chuck: clockwise -> counterclockwise" in text
    assert '+rotary.A.chuck_faces = "-X"' in text


@pytest.mark.parametrize("said", ["rs274ngc", str(bundled_folder() / "rs274ngc")])
def test_a_bundled_profile_is_never_written_to_and_gets_a_child(said: str, tmp_path: Path) -> None:
    before = (bundled_folder() / "rs274ngc" / "controller.toml").read_bytes()
    store(planned_change(said, "A", SEEN))
    assert before == (bundled_folder() / "rs274ngc" / "controller.toml").read_bytes()
    child = resolve("shop-rs274ngc")
    assert own(tmp_path, "shop-rs274ngc").parent == child.chain[0]
    assert bundled_folder() / "rs274ngc" == child.chain[1]
    assert ("-X", "counterclockwise") == (child.profile.rotary["A"].chuck_faces, child.profile.rotary["A"].positive_turns_chuck)


def test_the_child_is_changed_and_not_made_again_the_next_time(tmp_path: Path) -> None:
    store(planned_change("rs274ngc", "A", SEEN))
    file = own(tmp_path, "shop-rs274ngc")
    file.write_text(file.read_text() + "\n[safety]\nclearance = 20\n")
    change = planned_change("rs274ngc", "A", Mounting("+X", "counterclockwise"))
    assert not change.new
    store(change)
    assert 20 == load_profile("shop-rs274ngc").safety.clearance
    assert "+X" == load_profile("shop-rs274ngc").rotary["A"].chuck_faces


def test_a_profile_of_the_users_folder_is_changed_itself_by_its_name(tmp_path: Path) -> None:
    file = own(tmp_path, "corner-mill")
    file.parent.mkdir(parents=True)
    file.write_text('extends = "rs274ngc"\n')
    store(planned_change("corner-mill", "A", SEEN))
    assert "-X" == load_profile("corner-mill").rotary["A"].chuck_faces


def test_a_child_of_another_name_is_made_when_asked_for(tmp_path: Path) -> None:
    store(planned_change("rs274ngc", "A", SEEN, child="left-mill"))
    assert own(tmp_path, "left-mill").is_file()


@pytest.mark.parametrize("name", ["rs274ngc", "", "..", "a/b"])
def test_a_name_that_cannot_be_a_childs_is_refused(name: str) -> None:
    with pytest.raises(ProfileError, match="cannot be the name of a profile that extends"):
        planned_change("rs274ngc", "A", SEEN, child=name or ".")


def test_a_name_taken_by_a_profile_with_another_parent_is_refused(tmp_path: Path) -> None:
    file = own(tmp_path, "shop-rs274ngc")
    file.parent.mkdir(parents=True)
    file.write_text('extends = "plain-lines"\n')
    with pytest.raises(ProfileError, match="exists already and does not extend"):
        planned_change(str(bundled_folder() / "upright-c"), "C", Mounting("+Z", "clockwise"), child="shop-rs274ngc")


def test_a_file_that_was_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    folder = profile_with(LAYOUTS["a heading"], tmp_path)
    change = planned_change(str(folder), "A", SEEN)
    (folder / "controller.toml").write_text("# somebody was faster\n")
    with pytest.raises(OutputError, match="changed in the meantime"):
        store(change)
    assert "# somebody was faster\n" == (folder / "controller.toml").read_text()


def run(*arguments: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["turn-check", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result.exit_code, result.output


class TestCommand:
    def test_it_writes_the_program_and_asks_the_question(self, tmp_path: Path) -> None:
        code, said = run("-c", "rs274ngc", "-o", str(tmp_path / "turn.nc"))
        assert 0 == code
        assert (tmp_path / "turn.nc").read_text().startswith("%\n(turn check)\n")
        assert "towards-me: the -Y direction" in said

    def test_the_answer_is_stored_on_yes(self) -> None:
        code, said = run("-c", "rs274ngc", "--seen", "towards-me", "--chuck-faces", "-X", "--yes")
        assert 0 == code
        assert "use it as --controller shop-rs274ngc" in said
        assert "clockwise" == load_profile("shop-rs274ngc").rotary["A"].positive_turns_chuck

    def test_without_a_yes_nothing_is_stored(self, tmp_path: Path) -> None:
        code, said = run("-c", "rs274ngc", "--seen", "towards-me", "--chuck-faces", "-X")
        assert 2 == code
        assert "--yes" in said
        assert not own(tmp_path, "shop-rs274ngc").exists()

    def test_what_the_profile_says_already_is_not_stored_again(self, tmp_path: Path) -> None:
        folder = profile_with('extends = "rs274ngc"\n', tmp_path)
        code, said = run("-c", str(folder), "--seen", "away-from-me", "--chuck-faces", "+X")
        assert 0 == code
        assert "has these values already" in said

    @pytest.mark.parametrize(
        "arguments",
        [
            ("-c", "rs274ngc"),
            ("-c", "rs274ngc", "--seen", "towards-me", "-o", "x.nc"),
            ("-c", "rs274ngc", "--seen", "towards-me"),
            ("-c", "rs274ngc", "--seen", "up"),
            ("-c", "rs274ngc", "--seen", "towards-me", "--chuck-faces", "+X", "--set", "rotary.A.fastest=9"),
        ],
        ids=["nothing to do", "two things to do", "chuck not said", "no such answer", "for one run"],
    )
    def test_wrong_use_is_exit_code_2(self, arguments: tuple[str, ...]) -> None:
        assert 2 == run(*arguments)[0]

    @pytest.mark.parametrize(
        "arguments",
        [("-c", "no-such", "-o", "x.nc"), ("-c", "rs274ngc", "--seen", "to-the-left", "--chuck-faces", "+X", "--yes")],
        ids=["no such profile", "answer of another axis"],
    )
    def test_wrong_input_is_exit_code_1(self, arguments: tuple[str, ...]) -> None:
        assert 1 == run(*arguments)[0]

    def test_a_turn_check_that_cannot_be_made_leaves_the_old_file(self, tmp_path: Path) -> None:
        old = tmp_path / "turn.nc"
        old.write_text("OLD")
        assert 1 == run("-c", "rs274ngc", "--set", "stops.program=", "-o", str(old))[0]
        assert "OLD" == old.read_text()
