"""Every command line of the pages is run as printed: each page from top to bottom, in a fresh folder, as a reader would."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from steadyrest.cli import main

ROOT = Path(__file__).parents[2]

if str(ROOT / "docs") not in sys.path:
    sys.path.insert(0, str(ROOT / "docs"))

DOCUMENTS = [
    str(file.relative_to(ROOT))
    for pattern in ("README.md", "demo/README.md", "demo/*/README.md", "examples/*/README.md", "docs/*.md")
    for file in sorted(ROOT.glob(pattern))
]

ELSEWHERE = {
    "pip install '.[page]'": "installs",
    ".venv/bin/pip install '.[page]'": "installs",
    "steadyrest page parts --deliver-to machine": "serves until it is ended; tests/unit/page",
    "steadyrest page parts --deliver-to /media/machine": "serves until it is ended; tests/unit/page",
    "steadyrest page demo/lantern_cap": "serves until it is ended; tests/unit/page",
    "python3 -m venv .venv": "building and installing is what .ci/run does",
    ".venv/bin/pip install .": "the same",
    ". .venv/bin/activate": "the tests run in an environment already",
    "./check": "runs this test among all others",
    "pip download --no-deps geopandas==0.14.4": "fetches a package",
    "python demo/coast_roller/extract_coastline.py geopandas-0.14.4-py3-none-any.whl": "needs it; tests/unit/demo runs the script",
}
"""Command lines that are not run here, and why."""

OF_THE_SHOP = {"pytest": "tests/contract/test_shop_example.py", "pytest --update-goldens": "tests/contract/test_shop_example.py"}
"""Where the shop's README and the page on testing speak of the whole shop's tests, these run them; here they only have to be found."""

IN_A_SHOP = {"docs/testing.md", "docs/editors.md", "examples/shop/README.md"}
"""Documents that say that they are read in a copy of the shop's repository, under version control."""

_FENCE = re.compile(r"^ *```([^\n`]*)\n(.*?)^ *```", re.MULTILINE | re.DOTALL)
_FILE = re.compile(r"`([\w./-]+\.\w+)`[^`]*:$")
_INLINE = re.compile(r"`(steadyrest [^`\n]+)`")
_SHELL = ("sh", "bash", "console")


def text_of(document: str) -> str:
    return (ROOT / document).read_text(encoding="utf-8")


def steps(document: str) -> list[tuple[str, str]]:
    """What a reader does, from top to bottom: ("run", a command line), or the path of a file that the page shows and its text.

    A file is shown in a block right below a sentence that ends with its name in backticks, and a colon.
    """
    found: list[tuple[str, str]] = []
    text = text_of(document)
    for block in _FENCE.finditer(text):
        language, body = block.groups()
        if language in _SHELL:
            lines = body.replace("\\\n", " ").splitlines()
            found += [("run", part.strip()) for line in lines for part in _bare(line).split("&&") if part.strip()]
        elif named := _FILE.search(text[: block.start()].rstrip().rsplit("\n\n", 1)[-1].replace("\n", " ")):
            found.append((named[1], body))
    return found


def _bare(line: str) -> str:
    """The line without a comment at its end."""
    return re.sub(r"(^|\s)#.*", "", line)


def command_lines(document: str) -> list[str]:
    return [line for what, line in steps(document) if what == "run"]


@pytest.fixture
def reader(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A fresh folder with the demo parts and the example of a shop, an empty home, and nothing of whoever runs the tests."""
    for name in ("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    for name in ("XDG_CONFIG_HOME", "XDG_STATE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("PATH", f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}")
    here = tmp_path / "here"
    here.mkdir()
    for folder in ("demo", "examples"):
        shutil.copytree(ROOT / folder, here / folder, ignore=shutil.ignore_patterns("__pycache__", ".pytest_cache", ".hypothesis"))
    monkeypatch.chdir(here)
    before = signal.getsignal(signal.SIGTERM)
    yield here
    signal.signal(signal.SIGTERM, before)


def in_a_shop(here: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The worked example of a shop's repository, committed."""
    shop = here / "examples" / "shop"
    who = {"GIT_AUTHOR_NAME": "a", "GIT_AUTHOR_EMAIL": "a@b", "GIT_COMMITTER_NAME": "a", "GIT_COMMITTER_EMAIL": "a@b"}
    for command in ("git init -q", "git add controllers", "git commit -q -m begin"):
        subprocess.run(command.split(), cwd=shop, check=True, env={**os.environ, **who})
    monkeypatch.chdir(shop)
    return shop


def wrong_with(line: str, here: Path, *, in_shop: bool) -> str:
    """Run one command line as it is printed; why it fails, empty where it does what it should."""
    words = shlex.split(line)
    if words[0] in ("steadyrest", ".venv/bin/steadyrest"):
        done = CliRunner().invoke(main, words[1:])
        why = str(done.exception) if done.exit_code == 1 else ""
        return f"exit code {done.exit_code}: {done.output[-400:]}{why}" if done.exit_code else ""
    if in_shop and line in OF_THE_SHOP:
        line += " --collect-only"
    ran = subprocess.run(line, shell=True, cwd=here, capture_output=True, text=True, timeout=120, check=False)
    return f"exit code {ran.returncode}: {ran.stdout[-400:]}{ran.stderr[-400:]}" if ran.returncode else ""


@pytest.mark.parametrize("document", [each for each in DOCUMENTS if command_lines(each)])
def test_the_command_lines_of_a_page_run_as_printed_from_top_to_bottom(
    document: str, reader: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = in_a_shop(reader, monkeypatch) if document in IN_A_SHOP else reader
    failed = []
    for what, said in steps(document):
        if what != "run":
            (here / what).parent.mkdir(parents=True, exist_ok=True)
            (here / what).write_text(said, encoding="utf-8")
        elif said not in ELSEWHERE:
            wrong = wrong_with(said, here, in_shop=document in IN_A_SHOP)
            failed += [f"{said}\n  {wrong}"] if wrong else []
    assert not failed, "\n".join(failed)


def test_what_is_not_run_still_stands_on_a_page() -> None:
    said = {line for document in DOCUMENTS for line in command_lines(document)}
    assert set() == {*ELSEWHERE, *OF_THE_SHOP} - said
    assert all((ROOT / file).is_file() for file in OF_THE_SHOP.values())


def test_the_pages_hold_no_command_line_outside_a_block_of_them() -> None:
    """What is indented, or stands in a block of no language, would be run by nobody."""
    for document in DOCUMENTS:
        text = _FENCE.sub(lambda block: "" if block[1] in _SHELL else block[0], text_of(document))
        assert [] == [line for line in text.splitlines() if re.match(r"\s*(steadyrest|pytest) .*-", line)], document


@pytest.mark.parametrize("document", DOCUMENTS)
def test_a_command_named_in_a_sentence_exists(document: str) -> None:
    text = _FENCE.sub("", text_of(document))
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


def test_the_pages_have_commands_and_files_to_follow() -> None:
    assert len(command_lines("README.md")) >= 20
    assert len(command_lines("docs/getting-started.md")) >= 10
    shown = {what for document in DOCUMENTS for what, _ in steps(document) if what != "run"}
    assert {
        "two_flats.toolpath.json",
        "three_flats.job.toml",
        "words.toml",
        "controllers/corner-mill/controller.toml",
        "demo/latch_pin/latch_pin.job.toml",
    } <= shown


def test_a_screen_that_a_page_shows_is_that_of_the_command_above_it_on_the_files_that_the_page_shows() -> None:
    from making.screens import screens_of

    page = (
        "This is `own/mill.toml`:\n\n```toml\nsteadyrest_words = 1\n```\n\n```sh\nmkdir there\nsteadyrest --version\n"
        "steadyrest turn-check \\\n  --controller rs274ngc -o there/turn.nc\n```\n\n```{literalinclude} reference/samples/turn.txt\n```\n"
    )
    ((name, line, shown),) = screens_of("```{literalinclude} reference/samples/made-elsewhere.txt\n```\n" + page)
    assert ("turn", "steadyrest turn-check    --controller rs274ngc -o there/turn.nc") == (name, line)
    assert shown.startswith("there/turn.nc  turn check for rs274ngc")
    with pytest.raises(ValueError, match=r"steadyrest post none\.json -o a\.nc ended with 1"):
        list(screens_of("```sh\nsteadyrest post none.json -o a.nc\n```\n"))


def test_screens_of_the_first_part_are_those_of_the_product() -> None:
    from making.screens import screens_of

    shown = {name: said for name, _, said in screens_of(text_of("docs/getting-started.md"))}
    assert {"first-post", "first-other-end", "first-explain", "first-deliver"} == set(shown)
    assert shown["first-post"].startswith("LOOK  latch_pin.nc: proved")
    assert "turned end for end" in shown["first-other-end"]
    assert "A90       the rotary to 90 degrees" in shown["first-explain"]
    assert "delivered, and read back byte for byte" in shown["first-deliver"]
    assert "/home/you/share" in shown["first-deliver"]
