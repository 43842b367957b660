"""Write the generated pages of the documentation: `python docs/generate.py [FOLDER]`, docs/reference unless given.

They are made from the models when the site is built, and are not kept in the repository: a setting, event, message or
profile that is added is documented by what its own code says, with nothing else to change.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from making import commands, drawings, events, files, messages, printed, profiles, screens, settings, terminals, verdict

Pages = Mapping[str, str]


@cache
def pages() -> Pages:
    """Each generated file by its name: Markdown, and the drawings."""
    found: dict[str, str] = {}
    for made in (settings, events, messages, files, verdict, printed, commands, profiles, drawings, terminals, screens):
        found |= made.pages()
    return found


def generate(into: Path) -> list[Path]:
    """Write all pages into a folder, and take away what an earlier run left of things that are gone."""
    written = []
    for name, text in pages().items():
        file = into / name
        file.parent.mkdir(parents=True, exist_ok=True)
        if not file.is_file() or file.read_text(encoding="utf-8") != text:
            file.write_text(text, encoding="utf-8", newline="\n")
        written.append(file)
    for left in into.rglob("*.*"):
        if left.is_file() and left not in written:
            left.unlink()
    return written


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "reference"
    print(f"{len(generate(folder))} pages in {folder}")
