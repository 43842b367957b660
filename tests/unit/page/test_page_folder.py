"""Nothing but what lies below the folder that was given is read or written, whatever a name says."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.errors import InputError, OutputError
from steadyrest.page.folder import Folder


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    (tmp_path / "parts" / "old").mkdir(parents=True)
    (tmp_path / "parts" / "a.nc").write_bytes(b"M30\n")
    (tmp_path / "parts" / "old" / "b.nc").write_bytes(b"M30\n")
    (tmp_path / "parts" / ".hidden").write_bytes(b"")
    (tmp_path / "secret").write_bytes(b"")
    return Folder.given(tmp_path / "parts")


def test_files_are_listed_by_name_without_hidden_ones_and_without_links(folder: Folder) -> None:
    os.symlink(folder.path.parent / "secret", folder.path / "link")
    assert ["a.nc", "old/b.nc"] == [folder.name(each) for each in folder.files()]


@pytest.mark.parametrize("name", ["", ".", "..", "../secret", "old/../../secret", "/etc/passwd", "a\0b", "old\\..\\..\\secret", "x" * 2000])
def test_a_name_that_leads_out_is_refused(folder: Folder, name: str) -> None:
    with pytest.raises(InputError, match="is not in the folder"):
        folder.file(name)


def test_a_link_that_leads_out_is_refused(folder: Folder) -> None:
    os.symlink(folder.path.parent, folder.path / "out")
    with pytest.raises(InputError, match="is not in the folder"):
        folder.file("out/secret")


@given(parts=st.lists(st.sampled_from(["..", ".", "old", "a.nc", "", "/", "~", "secret", "...", "out"]), min_size=1, max_size=6))
def test_no_name_leads_out(parts: list[str]) -> None:
    folder = Folder(Path(os.path.realpath(os.getcwd())))
    try:
        found = folder.file("/".join(parts))
    except InputError:
        return
    assert found.is_relative_to(folder.path)
    assert found != folder.path


@pytest.mark.parametrize("name", ["../a.nc", "C:\\parts\\a.nc", "/etc/a.nc"])
def test_a_dropped_file_lands_in_the_folder_by_its_own_name_whatever_stands_before_it(folder: Folder, name: str) -> None:
    (folder.path / "a.nc").unlink()
    assert folder.path / "a.nc" == folder.keep(name, b"M2\n")
    assert b"M2\n" == (folder.path / "a.nc").read_bytes()


@pytest.mark.parametrize("name", ["", "..", ".bashrc", "a\nb", "con.nc", "LPT1", "a:b", "x/.", "a?"])
def test_a_name_that_no_file_should_have_is_refused(folder: Folder, name: str) -> None:
    with pytest.raises(InputError, match="no name for a file"):
        folder.keep(name, b"")


def test_another_file_of_that_name_stays_unless_it_may_be_replaced(folder: Folder) -> None:
    with pytest.raises(OutputError, match="another file of that name"):
        folder.keep("a.nc", b"other")
    assert b"M30\n" == (folder.path / "a.nc").read_bytes()
    folder.keep("a.nc", b"M30\n")
    folder.keep("a.nc", b"other", replace=True)
    assert b"other" == (folder.path / "a.nc").read_bytes()


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such folder"):
        Folder.given(tmp_path / "nowhere")
