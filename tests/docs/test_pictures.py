"""Each page of the site has a picture with words for it; each kept one is there light and dark, small, used, and taken by the script."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PICTURES = DOCS / "pictures"

if str(DOCS) not in sys.path:
    sys.path.insert(0, str(DOCS))

_IMAGE = re.compile(r"!\[([^\]]*)\]\(([^)]+)\)")
_TAKEN = re.compile(r"camera\.take\(\"([\w-]+)\"([^)]*)\)")


def pages() -> dict[str, str]:
    from generate import pages as generated

    written = {file.name: file.read_text(encoding="utf-8") for file in DOCS.glob("*.md")}
    return written | {f"reference/{name}": text for name, text in generated().items()}


def taken() -> set[str]:
    """The files that docs/take_pictures.py makes."""
    found: set[str] = set()
    for name, how in _TAKEN.findall((DOCS / "take_pictures.py").read_text(encoding="utf-8")):
        found |= {f"{name}.webp"} if "paper" in how else {f"{name}-light.webp", f"{name}-dark.webp"}
    return found


def test_every_page_has_a_picture_that_is_there_and_says_what_is_to_be_seen() -> None:
    found = pages()
    assert "reference/profiles/rs274ngc.md" in found
    lacking, wrong, used = [], [], set()
    for name, text in found.items():
        if not name.endswith(".md"):
            continue
        images = _IMAGE.findall(text)
        if not images:
            lacking.append(name)
        for words, file in images:
            goal = ((DOCS / name).parent / file).resolve().relative_to(DOCS.resolve()).as_posix()
            if goal.startswith("reference/"):
                there = goal in found
            else:
                used.add(goal.removeprefix("pictures/"))
                there = (DOCS / goal).is_file()
            if not there or len(words) < 15:
                wrong.append((name, file, words))
    assert ([], []) == (lacking, wrong)
    assert {name for name in taken() if not name.endswith("-dark.webp")} == used, "a picture that no page shows is taken by nobody's wish"


def test_the_kept_pictures_are_those_that_the_script_takes_and_they_are_small() -> None:
    kept = {file.name: file.stat().st_size for file in PICTURES.iterdir()}
    assert taken() == set(kept)
    assert [] == [(name, size) for name, size in kept.items() if size >= 60_000]
    assert sum(kept.values()) < 3_000_000
    for name in kept:
        head = (PICTURES / name).read_bytes()[:12]
        assert (b"RIFF", b"WEBP") == (head[:4], head[8:]), name


def test_a_screen_gets_its_dark_twin_on_the_site() -> None:
    pytest.importorskip("sphinx", reason="the extra `docs` is not installed: pip install '.[docs]'")
    from docutils import nodes
    from docutils.utils import new_document

    from making.twins import Twins

    document = new_document("page")
    document += [nodes.image(uri="pictures/one-light.webp", alt="one"), nodes.image(uri="reference/drawings/terminal-two.svg", alt="two")]
    Twins(document).apply()
    said = [(image["uri"], image["alt"], image["classes"]) for image in document.findall(nodes.image)]
    assert said == [
        ("pictures/one-light.webp", "one", ["screen", "light"]),
        ("pictures/one-dark.webp", "one", ["screen", "dark"]),
        ("reference/drawings/terminal-two.svg", "two", ["drawn"]),
    ]


@pytest.mark.long
def test_each_setting_of_a_picture_is_at_work_where_it_is_marked() -> None:
    """What the pages of settings show: every group has words of its own, and none of another group is marked for it."""
    from making import marked

    found = marked.chosen(marked.by_settings("coolant"))
    words = {
        word.word for line, marks in zip(found[2], found[3], strict=True) for word, mark in zip(line.words, marks, strict=True) if mark
    }
    assert {"M8", "M9"} == words
    assert "marked: " in marked.alt(found)
    svg = marked.drawing(found)
    assert sum(map(sum, found[3])) == svg.count('class="mark"') == svg.count('class="under"')
    with pytest.raises(ValueError, match="show a screen instead"):
        marked.chosen(marked.by_settings("delivery"))


def test_drawings_are_for_light_and_dark_and_load_nothing() -> None:
    from making import drawings, terminals

    found = drawings.pages() | terminals.pages()
    assert len(found) > 60
    for name, svg in found.items():
        assert "prefers-color-scheme: dark" in svg, name
        assert "href" not in svg, name
        assert svg.count("<style>") == 1, name


def test_a_terminal_shows_the_command_and_all_that_it_printed() -> None:
    from making import terminals

    svg = terminals.drawing("steadyrest prove a.nc", "STOP  a.nc: not proved <&>\n      " + "word " * 40)
    assert "$ steadyrest prove a.nc</text>" in svg
    assert '<text class="first" x="16" y="46" xml:space="preserve">STOP  a.nc: not proved &lt;&amp;&gt;</text>' in svg
    assert svg.count("word") == 40
