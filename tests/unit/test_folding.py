"""On a narrow terminal every text is folded to it; files, pipes and pages get it as their rooms make it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from steadyrest.folding import NARROWEST, fold_at, width
from steadyrest.posting import post_to_memory
from steadyrest.profile import find_profiles, list_text
from steadyrest.request import Request

TOUR = Path(__file__).parents[1] / "golden" / "tour"


@pytest.fixture
def narrow() -> Iterator[None]:
    fold_at(20)
    yield
    fold_at(None)


def test_nothing_is_folded_wider_than_its_room_makes_it_or_narrower_than_forty_columns(narrow: None) -> None:
    assert NARROWEST == 40 == width(79)
    assert width(30) == 30
    fold_at(120)
    assert width(79) == 79
    fold_at(None)
    assert width(79) == 79


def test_the_screen_after_posting_keeps_to_forty_columns_and_says_the_same(narrow: None) -> None:
    posted, _ = post_to_memory(Request(TOUR / "indexed.toolpath.json", "limited-clamped"))
    text = posted.text()
    assert max(map(len, text.splitlines())) <= 40
    said = " ".join(text.split())
    assert all(words in said for words in ("1 six flats off path 0.0", "min cut,", "proved, simulated, nothing found"))
    fold_at(None)
    assert 40 < max(map(len, posted.text().splitlines())) <= 80


def test_the_list_of_profiles_keeps_to_forty_columns(narrow: None) -> None:
    lines = [
        line for line in list_text(find_profiles()).splitlines() if " " in line.strip() and not line.startswith(("own folder", "packages"))
    ]
    assert max(map(len, (line for line in lines if not line.endswith(")")))) <= 40


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_a_command_folds_to_its_terminal_and_never_for_a_pipe() -> None:
    import pty
    import subprocess

    def lines(columns: str, piped: bool) -> list[str]:
        command = [sys.executable, "-m", "steadyrest", "controller", "list"]
        held, end = pty.openpty()
        with subprocess.Popen(
            command, stdout=subprocess.PIPE if piped else end, stderr=end, env=os.environ | {"COLUMNS": columns}
        ) as running:
            os.close(end)
            if running.stdout is not None:
                said = running.stdout.read()
            else:
                said = b""
                while True:
                    try:
                        piece = os.read(held, 65536)
                    except OSError:  # the other end is closed
                        break
                    if not piece:
                        break
                    said += piece
        os.close(held)
        return [line for line in said.decode().splitlines() if line.startswith("    ")]

    assert max(map(len, lines("44", piped=False))) <= 44 < max(map(len, lines("44", piped=True)))
