"""Every command line in the documents is run: each document from top to bottom, in a folder of its own, as a reader would."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from examples_of_inputs import FACE_PROGRAM, FACES_CL, JOB, LETTERS_PROGRAM

from steadyrest.cli import main
from steadyrest.profile.places import user_folder

ROOT = Path(__file__).parents[2]
TOUR = ROOT / "tests" / "golden" / "tour"
SHOP = ROOT / "examples" / "shop"
DOCUMENTS = [
    "README.md",
    "demo/README.md",
    "examples/shop/README.md",
    *(f"docs/{file.name}" for file in sorted((ROOT / "docs").glob("*.md"))),
]

WORDS = {"NAME": "rs274ngc", "NAME|FOLDER": "rs274ngc", "FOLDER": "controllers/corner-mill"}
"""What stands for a placeholder that is a word of its own. PART.toolpath.json and the like are files of that very name."""

FILES: dict[str, Callable[[], bytes]] = {
    "PART.toolpath.json": (TOUR / "indexed.toolpath.json").read_bytes,
    "TRUSTED.nc": lambda: golden("rs274ngc", "indexed"),
    "FACES.cl": lambda: FACES_CL,
    "FACE.nc": lambda: FACE_PROGRAM,
    "LETTERS.nc": lambda: LETTERS_PROGRAM,
    "PART.job.toml": lambda: JOB,
}
"""Placeholders that are files, made where a document names them and no command has."""

NOT_RUN: dict[tuple[str, str], str] = {}
"""(document, command line): why it cannot be run here."""

IN_A_SHOP = {"docs/testing.md", "docs/editors.md", "examples/shop/README.md"}
"""Documents that speak of a shop's repository are read in one, under version control."""

_FENCE = re.compile(r"^ *```(\w*)\n(.*?)^ *```", re.MULTILINE | re.DOTALL)
_INDENTED = re.compile(r"^(?: {4}|\t)(steadyrest .*)$", re.MULTILINE)
_INLINE = re.compile(r"`(steadyrest [^`\n]+)`")


def golden(profile: str, part: str) -> bytes:
    """A program as a golden file keeps it."""
    text = (ROOT / "tests" / "golden" / f"{profile}.golden").read_text(encoding="utf-8")
    return text.split(f"==== {part} ====\n")[1].split("\n====")[0].encode("ascii")


def command_lines(document: str) -> list[str]:
    """The lines of code that begin with `steadyrest `, lines that go on after a backslash joined."""
    text = (ROOT / document).read_text(encoding="utf-8").replace("\\\n", " ")
    blocks = [body for language, body in _FENCE.findall(text) if language in ("", "sh", "bash", "text")]
    fenced = [line.strip() for body in blocks for line in body.splitlines() if line.strip().startswith("steadyrest ")]
    return fenced + _INDENTED.findall(_FENCE.sub("", text))


@pytest.fixture
def reader(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with the demo parts, a home with a shop's profiles, and nothing of whoever runs the tests."""
    home = tmp_path / "home"
    for name in ("HOME", "USERPROFILE", "APPDATA"):
        monkeypatch.setenv(name, str(home))
    for name in ("XDG_CONFIG_HOME", "XDG_STATE_HOME"):
        monkeypatch.delenv(name, raising=False)
    shutil.copytree(SHOP / "controllers", user_folder())
    here = tmp_path / "here"
    here.mkdir()
    shutil.copytree(ROOT / "demo", here / "demo")
    (here / "SHARE").mkdir()
    monkeypatch.chdir(here)
    before = signal.getsignal(signal.SIGTERM)
    yield here
    signal.signal(signal.SIGTERM, before)


def in_a_shop(here: Path) -> None:
    """The worked example of a shop's repository, committed."""
    shutil.copytree(SHOP, here, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__", ".pytest_cache"))
    who = {"GIT_AUTHOR_NAME": "a", "GIT_AUTHOR_EMAIL": "a@b", "GIT_COMMITTER_NAME": "a", "GIT_COMMITTER_EMAIL": "a@b"}
    for command in ("git init -q", "git add controllers", "git commit -q -m begin"):
        subprocess.run(command.split(), cwd=here, check=True, env={**os.environ, **who})


def arguments(line: str) -> list[str]:
    """The words after `steadyrest`, comments left out and placeholders filled in."""
    words = [WORDS.get(word, word) for word in shlex.split(line, comments=True)[1:]]
    for word in words:
        if word in FILES and not Path(word).exists():
            Path(word).write_bytes(FILES[word]())
    return words


@pytest.mark.parametrize("document", [each for each in DOCUMENTS if command_lines(each)])
def test_the_command_lines_of_a_document_run_from_top_to_bottom(document: str, reader: Path) -> None:
    if document in IN_A_SHOP:
        in_a_shop(reader)
    failed = []
    for line in command_lines(document):
        if (document, line) in NOT_RUN:
            continue
        done = CliRunner().invoke(main, arguments(line))
        if done.exit_code != 0:
            failed.append(f"{line}\n  exit code {done.exit_code}: {done.output[-400:]}{done.exception if done.exit_code == 1 else ''}")
    assert not failed, "\n".join([*failed, "fill placeholders in WORDS or FILES, or say in NOT_RUN why a line cannot be run"])


def test_what_is_not_run_still_stands_in_its_document() -> None:
    assert [] == [(document, line) for document, line in NOT_RUN if line not in command_lines(document)]


@pytest.mark.parametrize("document", DOCUMENTS)
def test_a_command_named_in_a_sentence_exists(document: str) -> None:
    text = _FENCE.sub("", (ROOT / document).read_text(encoding="utf-8"))
    wrong = []
    for line in _INLINE.findall(text):
        command: click.Command = main
        for word in line.split()[1:]:
            if not isinstance(command, click.Group):
                break
            inner = command.commands.get(word)
            if inner is None:
                wrong.append(line)
                break
            command = inner
        options = {name for each in command.params for name in (*each.opts, *each.secondary_opts)} | {"--help", "-h", "--version"}
        wrong += [line for word in line.split() if word.startswith("-") and word.split("=")[0] not in options]
    assert [] == wrong


def test_the_readme_and_the_first_page_have_command_lines_to_run() -> None:
    assert len(command_lines("README.md")) >= 5
    assert len(command_lines("docs/getting-started.md")) >= 6
