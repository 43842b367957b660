"""The job file keeps what somebody wrote in it, takes what the page says, and is never left as what no command can read."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyrest.errors import InputError, OutputError
from steadyrest.page.job_file import changed_text, new_job_text, read_job_file, save_job

TEXT = """\
# made by the night shift
steadyrest_job = 1
name = "spool"   # as on the drawing

[[inputs]]
file = "a.nc"    # the flats
indexed = [0, 90]

[post]
controller = "rs274ngc"
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made = tmp_path / "spool.job.toml"
    made.write_text(TEXT, encoding="utf-8")
    return made


def test_only_the_lines_that_were_changed_change() -> None:
    text = changed_text(
        TEXT, {"stock.shape": "round", "stock.diameter": 40.0, "inputs.0.wrap": 40, "inputs.0.indexed": None, "name": "reel"}
    )
    assert set(TEXT.splitlines()) - set(text.splitlines()) == {'name = "spool"   # as on the drawing', "indexed = [0, 90]"}
    assert 'name = "reel"   # as on the drawing' in text.splitlines()
    assert "wrap = 40" in text.splitlines()
    assert "[stock]" in text


def test_a_setting_of_the_rotary_is_kept_under_its_dotted_name_and_read_as_on_the_command_line(path: Path) -> None:
    (path.parent / "a.nc").write_text("M30\n", encoding="utf-8")
    before = read_job_file(path)
    after = save_job(path, changed_text(before.text, {"post.set.rotary.A.chuck_faces": "-X"}), seen=before.digest)
    assert ('rotary.A.chuck_faces="-X"',) == after.request.sets


def test_a_key_that_is_not_there_is_taken_away_without_a_trace() -> None:
    assert TEXT == changed_text(TEXT, {"stock.diameter": None, "clearance": None})


def test_a_change_that_no_command_could_read_is_refused_with_its_key_and_the_old_file_stands(path: Path) -> None:
    with pytest.raises(InputError, match=r"spool\.job\.toml:\d+, stock, diameter"):
        save_job(
            path, changed_text(TEXT, {"stock": {"shape": "round", "diameter": -1, "from": -90, "to": 0}}), seen=read_job_file(path).digest
        )
    assert path.read_text(encoding="utf-8") == TEXT
    assert [path] == list(path.parent.iterdir())


def test_a_change_made_meanwhile_elsewhere_is_not_overwritten(path: Path) -> None:
    seen = read_job_file(path).digest
    path.write_text(TEXT.replace("spool", "other"), encoding="utf-8")
    with pytest.raises(OutputError, match="changed meanwhile"):
        save_job(path, changed_text(TEXT, {"name": "mine"}), seen=seen)
    assert "other" in path.read_text(encoding="utf-8")
    with pytest.raises(OutputError, match="a job of that name already"):
        save_job(path, TEXT, seen=None)


def test_a_new_job_is_one_that_a_command_reads(tmp_path: Path) -> None:
    made = save_job(tmp_path / "n.job.toml", new_job_text(["face.nc", "groove.nc"], 'a "quoted" name'), seen=None)
    assert made.job is not None
    assert ['a "quoted" name', "face.nc", "groove.nc"] == [made.job.name, *(each.file.name for each in made.job.inputs)]


def test_a_file_that_is_no_job_is_shown_with_what_is_wrong(path: Path) -> None:
    path.write_text("steadyrest_job = 1\nnmae = 3\n", encoding="utf-8")
    found = read_job_file(path)
    assert found.job is None
    assert "nmae" in str(found.error)
    with pytest.raises(InputError, match="there is no such file"):
        read_job_file(path.parent / "nowhere.job.toml")


def test_a_key_through_something_that_holds_none_is_told() -> None:
    with pytest.raises(InputError, match="holds no keys of its own"):
        changed_text(TEXT, {"name.first": "x"})
