"""A program gets into its place whole, or not at all, and nothing is left beside it."""

from __future__ import annotations

import os
import resource
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from steadyrest.errors import OutputError, PlanError
from steadyrest.writing import atomic_file, put_in_place
from steadyrest.writing.atomic_file import alone, hold


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A program that is already there."""
    path = tmp_path / "part.nc"
    path.write_bytes(b"OLD\n")
    return path


def only(path: Path) -> bool:
    """Nothing but the old program, as it was, is in its folder."""
    return [path] == list(path.parent.iterdir()) and path.read_bytes() == b"OLD\n"


def test_a_program_waits_beside_its_place_until_it_is_committed(old: Path) -> None:
    with put_in_place([b"N", b"EW\n"], old) as placed:
        assert b"OLD\n" == old.read_bytes()
        assert b"NEW\n" == placed.temporary.read_bytes()
        assert old.parent == placed.temporary.parent
        placed.commit()
    assert b"NEW\n" == old.read_bytes()
    assert [old] == list(old.parent.iterdir())


def test_a_program_that_is_not_committed_is_taken_away(old: Path) -> None:
    with put_in_place([b"NEW\n"], old):
        pass
    assert only(old)


def test_a_refusal_while_it_is_proved_leaves_the_old_program(old: Path) -> None:
    with pytest.raises(RuntimeError, match="proof"), put_in_place([b"NEW\n"], old):
        raise RuntimeError("proof")
    assert only(old)


@pytest.mark.parametrize("wrong", [KeyboardInterrupt(), PlanError("no"), OSError("the toolpath cannot be read")])
def test_whatever_stops_the_writing_leaves_the_old_program_and_is_passed_on(old: Path, wrong: BaseException) -> None:
    def chunks() -> Iterator[bytes]:
        yield b"NEW"
        raise wrong

    with pytest.raises(type(wrong)) as caught:
        put_in_place(chunks(), old)
    assert caught.value is wrong
    assert only(old)


def test_a_full_disk_is_said_and_leaves_the_old_program(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no device that is always full here")
    monkeypatch.setattr(atomic_file, "_open", lambda temporary: os.open("/dev/full", os.O_WRONLY))
    with pytest.raises(OutputError, match="the disk is full"):
        put_in_place([b"NEW\n"], old)
    assert only(old)


def test_a_file_that_grows_above_the_limit_is_said_and_leaves_the_old_program(old: Path) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
    try:
        with pytest.raises(OutputError, match="larger than is allowed"):
            put_in_place([b"X1\n" * 50_000] * 3, old)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert only(old)


def test_a_rename_that_fails_leaves_the_old_program(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    placed = put_in_place([b"NEW\n"], old)

    def refuse(source: Path, target: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OutputError, match="writing is not allowed there"):
        placed.commit()
    assert only(old)


def test_an_interrupt_at_the_rename_leaves_the_old_program(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    placed = put_in_place([b"NEW\n"], old)

    def interrupted(source: Path, target: Path) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        placed.commit()
    assert only(old)


def test_a_folder_is_no_place_for_a_program(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="is a folder"):
        put_in_place([b"NEW\n"], tmp_path)
    assert [] == list(tmp_path.iterdir())


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"the folder '.*/missing' does not exist"):
        put_in_place([b"NEW\n"], tmp_path / "missing" / "part.nc")


def test_a_file_is_no_folder(old: Path) -> None:
    with pytest.raises(OutputError, match="part of the path is a file"):
        put_in_place([b"NEW\n"], old / "part.nc")
    assert only(old)


def test_a_device_is_no_place_for_a_program() -> None:
    with pytest.raises(OutputError, match="no plain file"):
        put_in_place([b"NEW\n"], Path(os.devnull))


def test_a_name_too_long_is_said_before_anything_is_written(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="the name is too long"):
        put_in_place([b"NEW\n"], tmp_path / ("x" * 300 + ".nc"))
    assert [] == list(tmp_path.iterdir())


def test_the_longest_name_that_fits_works(tmp_path: Path) -> None:
    path = tmp_path / ("x" * 252 + ".nc")
    put_in_place([b"NEW\n"], path).commit()
    assert [path] == list(tmp_path.iterdir())


def test_a_write_protected_program_is_not_replaced(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)
    with pytest.raises(OutputError, match="write-protected"):
        put_in_place([b"NEW\n"], old)
    assert only(old)


def test_a_folder_that_cannot_be_written_is_said(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(temporary: Path) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(atomic_file, "_open", refuse)
    with pytest.raises(OutputError, match="writing is not allowed there"):
        put_in_place([b"NEW\n"], old)
    assert only(old)


def test_a_replaced_program_keeps_its_permissions(old: Path) -> None:
    old.chmod(0o640)
    put_in_place([b"NEW\n"], old).commit()
    assert 0o640 == stat.S_IMODE(old.stat().st_mode)


def test_a_link_is_followed_and_kept(old: Path) -> None:
    link = old.with_name("link.nc")
    link.symlink_to(old)
    put_in_place([b"NEW\n"], link).commit()
    assert link.is_symlink()
    assert b"NEW\n" == old.read_bytes()


def test_one_at_a_time_changes_a_file_and_the_others_wait(tmp_path: Path) -> None:
    file = tmp_path / "count"
    file.write_text("0", encoding="ascii")

    def more() -> None:
        for _ in range(20):
            with alone(file):
                file.write_text(str(int(file.read_text(encoding="ascii")) + 1), encoding="ascii")

    threads = [threading.Thread(target=more) for _ in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert "80" == file.read_text(encoding="ascii")


def test_whoever_waits_too_long_is_told(tmp_path: Path) -> None:
    with alone(tmp_path / "a"), pytest.raises(OutputError, match="another process"), alone(tmp_path / "a", seconds=0.05):
        pass


def test_two_processes_that_remember_places_lose_nothing(tmp_path: Path) -> None:
    code = (
        "import sys; from steadyrest.centre import RotaryPlace, remember\n"
        "for at in range(8): remember(f'{sys.argv[1]}{at}', RotaryPlace('X', 'mm', {'Y': 1.5, 'Z': 2.5}))"
    )
    own = os.environ | {"XDG_CONFIG_HOME": str(tmp_path), "HOME": str(tmp_path), "STEADYREST_CONFIG": str(tmp_path)}
    both = [subprocess.Popen([sys.executable, "-c", code, name], env=own) for name in "ab"]
    assert [0, 0] == [each.wait() for each in both]
    (file,) = tmp_path.rglob("places.toml")
    assert 16 == file.read_text(encoding="utf-8").count('along = "X"')


def test_a_file_that_is_held_is_known_to_be(tmp_path: Path) -> None:
    first = os.open(tmp_path / "a", os.O_RDWR | os.O_CREAT)
    second = os.open(tmp_path / "a", os.O_RDWR)
    assert (True, False) == (hold(first), hold(second))
    os.close(first)
    assert hold(second)
    os.close(second)
