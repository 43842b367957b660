"""Who said how the rotary stands, and what is taken as known of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_page_today import a_part, own_configuration, upright_b

from steadyrest.errors import ProfileError
from steadyrest.page.folder import Folder
from steadyrest.page.job_file import read_job_file
from steadyrest.page.standing import Standing, controller_said, machines, standing

__all__ = ["own_configuration"]


def now(parts: Path, said: str = "", **of: str) -> Standing:
    a_part(parts, **of)  # type: ignore[arg-type]
    job = parts / "p.job.toml"
    job.write_text(job.read_text() + said)
    return standing(read_job_file(job))


@pytest.mark.parametrize(
    ("said", "by", "sense"),
    [
        ("", ("assumed", "assumed"), None),
        ('[post.set.rotary.A]\nchuck_faces = "-X"\n', ("run", "assumed"), None),
        ('[post.set.rotary.A]\npositive_turns_chuck = "clockwise"\n', ("assumed", "run"), None),
        # Facing +X and clockwise is left-hand about +X: worked in test_page_today.py.
        ('[post.set.rotary.A]\nchuck_faces = "+X"\npositive_turns_chuck = "clockwise"\n', ("run", "run"), -1),
        ('[post.set.rotary.A]\nchuck_faces = "-X"\npositive_turns_chuck = "clockwise"\n', ("run", "run"), 1),
    ],
)
def test_the_sense_is_only_known_where_both_facts_were_said(parts: Path, said: str, by: tuple[str, str], sense: int | None) -> None:
    here = now(parts, said).mounted
    assert here is not None
    assert (by, sense, sense) == ((here.faces_by, here.turns_by), here.sense, here.word_sense)


def test_a_profile_of_the_shop_that_does_not_say_the_facts_itself_does_not_make_them_known(parts: Path) -> None:
    here = now(parts, axis="Y", controller=upright_b(parts)).mounted
    assert here is not None
    assert ("assumed", "assumed", False) == (here.faces_by, here.turns_by, here.known)


def test_a_part_that_cannot_be_read_leaves_the_rest_known(parts: Path) -> None:
    a_part(parts)
    (parts / "p.toolpath.json").write_text("{")
    found = standing(read_job_file(parts / "p.job.toml"))
    assert (None, None, "X") == (found.toolpath, found.setting, found.axis)
    assert found.mounted is not None


def test_a_machine_that_cannot_be_read_is_told_where_it_is_needed(parts: Path) -> None:
    found = now(parts, controller="nobody-s-mill")
    assert found.mounted is None
    assert found.wrong is not None
    with pytest.raises(ProfileError):
        assert found.profile


def test_a_part_that_was_written_anew_is_read_anew(parts: Path) -> None:
    assert "X" == now(parts).axis
    assert "Y" == now(parts, axis="Y").axis


def test_the_machines_of_the_shop_come_first_and_broken_ones_are_left_out(parts: Path, tmp_path: Path) -> None:
    own = tmp_path / "config" / "steadyrest" / "controllers" / "own"
    own.mkdir(parents=True)
    (own / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "one of our own"\n')
    upright_b(parts)
    (parts / "broken").mkdir()
    (parts / "broken" / "controller.toml").write_text("extends = 3\n")
    a_part(parts)
    listed = [each.name for each in machines(Folder.given(parts), read_job_file(parts / "p.job.toml"))]
    assert ["own", "./upright-b"] == listed[:2]
    assert "rs274ngc" in listed
    assert "./broken" not in listed


@pytest.mark.parametrize(
    ("text", "name"), [('[post]\ncontroller = "a"\n', "a"), ("", ""), ("post = 3\n", ""), ("[", ""), ("[post]\ncontroller = 3\n", "")]
)
def test_only_a_machine_that_the_job_names_is_named(text: str, name: str) -> None:
    assert name == controller_said(text)
