"""A program all its way: proved again, named, put in its place and logged."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from delivery_parts import OLD, deliver, inside
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.cli import main
from steadyrest.delivery.delivery import add, broken_off, delivered_name, former_name, log_line, noted
from steadyrest.errors import OutputError
from steadyrest.posting import post
from steadyrest.profile import load_profile, own_folder
from steadyrest.request import Request


def test_a_proved_program_arrives_byte_for_byte(shop: Path) -> None:
    result = deliver(shop, "--to", str(shop / "share"))
    assert 0 == result.exit_code
    assert {"flat.nc": (shop / "flat.nc").read_bytes()} == inside(shop / "share")


def test_a_program_that_cuts_something_else_is_refused_and_nothing_changes(shop: Path) -> None:
    (shop / "share" / "flat.nc").write_bytes(OLD)
    text = (shop / "flat.nc").read_text()
    (shop / "flat.nc").write_text(text.replace("X-30", "X-31"))
    result = deliver(shop, "--to", str(shop / "share"))
    assert 3 == result.exit_code
    assert "stop: nothing was delivered" in result.output
    assert {"flat.nc": OLD} == inside(shop / "share")


def test_the_log_has_time_digest_and_profile_and_nobodys_name(shop: Path) -> None:
    deliver(shop, "--to", str(shop / "share"))
    line = (shop / "state" / "steadyrest" / "deliveries.log").read_text()
    digest = hashlib.sha256((shop / "flat.nc").read_bytes()).hexdigest()
    facts = rf"digest={digest} profile=rs274ngc/[0-9a-f]{{16}} toolpath=[0-9a-f]{{16}} to=.* outcome=look result=delivered\n"
    pattern = rf"20\d\d-\d\d-\d\dT[0-9:]{{8}}[+-]\d\d:\d\d {facts}"
    assert re.fullmatch(pattern, line)


def test_each_delivery_adds_a_line_to_the_log_that_is_named(shop: Path) -> None:
    for _ in range(2):
        deliver(shop, "--to", str(shop / "share"), "--log", str(shop / "mill.log"))
    lines = (shop / "mill.log").read_text().splitlines()
    assert ["result=delivered", 'result="already there"'] == [line[line.index("result=") :] for line in lines]


def test_the_result_as_json_names_the_place_the_digest_and_the_former_version(shop: Path) -> None:
    (shop / "share" / "flat.nc").write_bytes(OLD)
    found = json.loads(deliver(shop, "--to", str(shop / "share"), "--json").stdout)
    assert str(shop / "share" / "flat.nc") == found["target"]
    assert OLD == Path(found["former"]).read_bytes()
    assert found["proof"]["proved"] is True


def test_the_folder_of_the_profile_is_used_unless_another_one_is_named(shop: Path) -> None:
    assert 0 == deliver(shop, "--set", f"delivery.folder={shop / 'share'}").exit_code
    assert ["flat.nc"] == list(inside(shop / "share"))


def test_at_a_machine_with_short_names_the_former_version_is_kept_in_the_state_folder(shop: Path) -> None:
    post(Request(shop / "flat.toolpath.json", "counts-numbered", shop / "flat.nc"))
    (shop / "share" / "FLAT.NC").write_bytes(OLD)
    result = deliver(shop, "-c", "counts-numbered", "--to", str(shop / "share"), program="flat.nc")
    assert 0 == result.exit_code
    assert ["FLAT.NC"] == list(inside(shop / "share"))
    assert [OLD] == list(inside(shop / "state" / "steadyrest" / "former").values())


@pytest.mark.parametrize(
    ("more", "wrong"),
    [
        ([], "does not state the folder from which the machine reads programs"),
        (["--to", "SHARE/gone"], "the folder is not there"),
        (["--to", "SHARE", "--name", "flat.txt"], "its ending is not .nc"),
        (["--to", "SHARE", "--time-limit", "0"], "is too short"),
        (["--to", "SHARE", "--log", "SHARE"], "the log cannot be written"),
    ],
    ids=["no folder", "share gone", "ending", "no time", "log is a folder"],
)
def test_what_is_wrong_is_said_with_exit_code_1_and_nothing_is_delivered(shop: Path, more: list[str], wrong: str) -> None:
    result = deliver(shop, *(each.replace("SHARE", str(shop / "share")) for each in more))
    assert 1 == result.exit_code
    assert wrong in result.output
    assert {} == inside(shop / "share")


def test_a_program_that_is_not_there_is_exit_code_1(shop: Path) -> None:
    assert 1 == deliver(shop, "--to", str(shop / "share"), program="other.nc").exit_code


def test_a_missing_toolpath_is_exit_code_2(shop: Path) -> None:
    assert 2 == CliRunner().invoke(main, ["deliver", str(shop / "flat.nc"), "--to", str(shop)]).exit_code


def test_delivering_runs_no_code_of_the_current_folder(tmp_path: Path) -> None:
    for name in ("json", "pickle", "numpy", "steadyrest", "sitecustomize", "usercustomize"):
        (tmp_path / f"{name}.py").write_text("import pathlib; pathlib.Path('it-ran').touch()\n", encoding="utf-8")
    code = (
        "import sys; sys.path[:] = [each for each in sys.path if each]\n"  # the folder was searched while this was started, not by us
        "import os; os.chdir(sys.argv[1]); os.environ['PYTHONPATH'] = sys.argv[1]; sys.path.append(sys.argv[1])\n"
        "from steadyrest.delivery.share import Order, _asked; from pathlib import Path\n"
        "order = Order(Path('a'), '', Path('nowhere'), 'b', Path('c'), 'd', 'e', 'f')\n"
        "print(type(_asked('put', order, 30.0, [])[0]).__name__)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path)], cwd="/", capture_output=True, text=True, check=True)
    assert "OutputError\n" == done.stdout, done.stderr
    assert not (tmp_path / "it-ran").exists()


WHEN = datetime(2026, 11, 24, 23, 20, 48, tzinfo=UTC)
OPEN = load_profile("rs274ngc")
STRICT = load_profile("counts-numbered")


@pytest.mark.parametrize("name", ["part.nc", "Flansch Ø40 (neu).nc", "x" * 250 + ".nc"])
def test_a_profile_without_rules_takes_every_name_with_its_ending(name: str) -> None:
    assert name == delivered_name(name, OPEN)


def test_small_letters_become_capitals_where_the_machine_wants_capitals() -> None:
    assert "PEG_12.NC" == delivered_name("peg_12.nc", STRICT)


@pytest.mark.parametrize(
    ("name", "wrong", "cure"),
    [
        ("lantern_spindle.nc", "it has 15 characters before its ending, and 8 are allowed", "--name LANTERN.NC"),
        ("peg-12.nc", "'-' is not one of the allowed characters", "--name PEG_12.NC"),
        ("büchse.nc", "'Ü' is not one of the allowed characters", "--name BUCHSE.NC"),
        ("peg.txt", "its ending is not .NC", "--name PEG.NC"),
        ("peg", "its ending is not .NC", "--name PEG.NC"),
        (".nc", "nothing before its ending", "--name NAME"),
        ("a/b.nc", "'/' is not allowed in a name", "--name A_B.NC"),
        ("a\nb.nc", "is not allowed in a name", "--name A_B.NC"),
    ],
)
def test_a_name_that_breaks_a_rule_is_refused_with_one_that_keeps_them_all(name: str, wrong: str, cure: str) -> None:
    with pytest.raises(OutputError) as caught:
        delivered_name(name, STRICT)
    assert wrong in caught.value.wrong
    assert caught.value.cure.endswith(cure)


@given(st.text(max_size=30), st.sampled_from([OPEN, STRICT]))
def test_a_name_is_taken_as_it_is_or_refused_and_the_proposed_one_is_taken(name: str, profile: object) -> None:
    assert profile in (OPEN, STRICT)
    rules = OPEN if profile == OPEN else STRICT
    try:
        said = delivered_name(name, rules)
    except OutputError as error:
        proposed = re.search(r"--name (.+)$", error.cure)
        assert proposed is not None
        assert proposed[1] == "NAME" or proposed[1] == delivered_name(proposed[1], rules)
    else:
        assert said == (name.upper() if rules.delivery.upper_case else name)


def test_a_former_version_has_the_date_and_time_in_its_name_and_no_programs_ending() -> None:
    assert "peg-20261124-232048.old" == former_name("peg.nc", WHEN, OPEN)


def test_a_former_version_has_no_name_at_a_machine_whose_rules_leave_no_room() -> None:
    assert former_name("PEG.NC", WHEN, STRICT) is None


def test_a_value_that_would_break_the_line_of_the_log_stands_in_quotes() -> None:
    when = datetime(2026, 11, 24, 23, 20, 48, tzinfo=UTC)
    assert '2026-11-24T23:20:48+00:00 to="/mnt/a b\\nc"' == log_line(when, {"to": "/mnt/a b\nc"})


@pytest.mark.parametrize("stated", ["", "relative/path"])
def test_the_state_folder_is_that_of_the_xdg_specification(stated: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", stated)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert tmp_path / ".local" / "state" / "steadyrest" == own_folder("state")


def test_a_delivery_that_died_before_it_was_logged_is_told_by_the_next(tmp_path: Path) -> None:
    log, target, other = tmp_path / "deliveries.log", tmp_path / "PART.NC", tmp_path / "OTHER.NC"
    add(log, "the first line")
    target.write_bytes(b"M2\n")
    digest = hashlib.sha256(b"M2\n").hexdigest()
    with noted(log, "2026-11-28T07:00:00+00:00 digest=1", target, digest):
        assert () == broken_off(log), "one that is still under way is left alone"
    with pytest.raises(OutputError), noted(log, "2026-11-28T07:00:00+00:00 digest=2", target, digest):
        raise OutputError("it says itself what went wrong")
    assert () == broken_off(log)
    for place in (target, other):
        with pytest.raises(KeyboardInterrupt), noted(log, f"2026-11-28T07:00:00+00:00 to={place.name}", place, digest):
            raise KeyboardInterrupt
    (tmp_path / ".deliveries.log-1.pending").write_bytes(json.dumps({"line": 3})[:-2].encode())
    there, not_there = sorted(broken_off(log), key=lambda said: "complete" not in said)
    assert f"{target} is there and complete; its line was added now" in there
    assert f"{other} is not the program to be delivered" in not_there
    assert ["the first line", "2026-11-28T07:00:00+00:00 to=PART.NC found=later"] == log.read_text(encoding="utf-8").splitlines()
    assert () == broken_off(log)
    assert {"deliveries.log", "PART.NC"} == set(os.listdir(tmp_path))
