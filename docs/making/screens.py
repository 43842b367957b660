"""What commands of the hand-written pages show on the screen, taken from real runs when the site is built."""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Iterator
from contextlib import chdir, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from click.testing import CliRunner

from making.stated import ROOT
from steadyrest.cli import main

DOCS = ROOT / "docs"
ELSEWHERE = ("pip", ".venv/bin/pip", "python3", ".", "steadyrest page")
"""How command lines begin that are not run here: they install something, or serve until they are ended."""

_BLOCK = re.compile(r"^```([^\n`]*)\n(.*?)^```", re.MULTILINE | re.DOTALL)
_SAMPLE = re.compile(r"\{literalinclude\} reference/samples/([\w-]+)\.txt")
_FILE = re.compile(r"`([\w./-]+\.\w+)`[^`]*:$")


def pages() -> dict[str, str]:
    """One text file each."""
    found: dict[str, str] = {}
    for document in sorted(DOCS.glob("*.md")):
        text = document.read_text(encoding="utf-8")
        if samples := list(_SAMPLE.finditer(text)):
            last = text.index("```", samples[-1].end()) + 3
            found |= {f"samples/{name}.txt": shown for name, _, shown in screens_of(text[:last])}
    return found


def screens_of(text: str) -> Iterator[tuple[str, str, str]]:
    """Of a page whose commands are run from top to bottom: the name of each sample, the command line above it, and what that showed.

    A file that the page shows, in a block right below a sentence that ends with its name in backticks and a colon, is written first.
    Samples that no command line stands above are made elsewhere.
    """
    with fresh() as here:
        line = shown = ""
        for block in _BLOCK.finditer(text):
            language, body = block.groups()
            sample = _SAMPLE.match(language)
            if sample and line:
                yield sample[1], line, shown
            elif language == "sh":
                for line in body.replace("\\\n", " ").splitlines():
                    shown = "" if line.startswith(ELSEWHERE) else _shown(line, here)
            elif named := _FILE.search(text[: block.start()].rstrip().rsplit("\n\n", 1)[-1].replace("\n", " ")):
                file = here / named[1]
                file.parent.mkdir(parents=True, exist_ok=True)
                file.write_text(body, encoding="utf-8")


@contextmanager
def fresh() -> Iterator[Path]:
    """A folder with the demo parts."""
    with TemporaryDirectory() as folder, chdir(folder):
        shutil.copytree(ROOT / "demo", Path(folder) / "demo")
        yield Path(folder).resolve()


def _shown(line: str, here: Path) -> str:
    """What a command shows, with the folder in which it ran as if it were the reader's own."""
    words = shlex.split(line, comments=True)
    if words[0] == "mkdir":
        for name in words[1:]:
            Path(name).mkdir()
        return ""
    own = dict.fromkeys(("XDG_CONFIG_HOME", "XDG_STATE_HOME", "APPDATA", "LOCALAPPDATA"), str(here / ".local" / "state")) | {
        "COLUMNS": "80"
    }
    done = CliRunner().invoke(main, words[1:], env=own)
    if done.exit_code != 0:
        raise ValueError(f"{line} ended with {done.exit_code}: {done.output}") from done.exception
    return done.output.replace(str(here), "/home/you").rstrip() + "\n"
