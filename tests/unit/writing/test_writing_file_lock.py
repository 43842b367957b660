"""Files that are held: one process at a time changes them, and those of killed runs are known."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from steadyrest.errors import OutputError
from steadyrest.writing.atomic_file import alone, hold


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
