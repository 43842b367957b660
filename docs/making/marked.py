"""Lines of a program, drawn, with those words marked that a group of settings decides, or that a template prints."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from html import escape
from pathlib import Path

from making.drawings import STYLE, svg
from making.stated import ROOT, bundled
from steadyrest.errors import SteadyrestError
from steadyrest.explaining import Explained, explain_lines, write_anew
from steadyrest.request import Request

LINES = 14
WIDE, HIGH = 9, 22
"""Of a letter and a line, pixels."""
MOST_COLUMNS = 66
ELSEWHERE = {
    "top": ("page-profile", "The step Profile of the page: the profile's name and what it speaks, and below it its settings"),
    "linear": ("over-time", "Axes and speeds over the time of a program; the limit in the last chart is the rapid of the slowest axis"),
    "positions": ("page-profile", "The step Profile of the page: what positions are positions of stands under the machine and its rotary"),
    "reorient": ("page-profile", "The step Profile of the page: what is done where a cut fits in no travel stands under the machine"),
    "poles": ("page-profile", "The step Profile of the page: what is done beside a pole stands under the machine and its rotary"),
    "delivery": ("page-deliver", "The step Deliver of the page, after a program was put into the folder of the machine and read back"),
}  # fmt: skip
"""Groups of which no word of a program tells: a screen on which they are at work, and what is to be seen."""

Marks = tuple[bool, ...]
Chosen = tuple[str, str, tuple[Explained, ...], tuple[Marks, ...]]


@cache
def explained(profile: str, toolpath: Path) -> tuple[Explained, ...]:
    """Each line of the program that a profile writes of a toolpath; none where it refuses."""
    try:
        written = write_anew(Request(toolpath, controller=profile))
    except SteadyrestError:
        return ()
    return explain_lines(Path(toolpath.name), written.lines, 1, len(written.lines), written).lines


def by_settings(group: str) -> Callable[[Explained], Marks]:
    """Marks the words that a setting of the group makes so, or the whole line where the rule behind it follows one."""

    def marks(line: Explained) -> Marks:
        words = tuple(any(one.key.split(".")[0] == group for one in word.settings) for word in line.words)
        rule = any(one.key.split(".")[0] == group for one in line.why_settings)
        return words if any(words) else (rule,) * len(line.words)

    return marks


def by_templates(line: Explained) -> Marks:
    """Marks the words that a template prints."""
    return tuple(word.template is not None for word in line.words)


def chosen(marks: Callable[[Explained], Marks]) -> Chosen:
    """Profile, part of the tour and its lines where most words are marked; the reference profile before all others."""
    for profile in bundled():
        found = [
            one
            for toolpath in sorted((ROOT / "tests/golden/tour").glob("*.toolpath.json"))
            for one in _windows(profile.name, toolpath, marks)
        ]
        if found:
            return max(found, key=lambda one: one[0])[1]
    raise ValueError("no word of the tour is marked: show a screen instead, in ELSEWHERE")


def _windows(profile: str, toolpath: Path, marks: Callable[[Explained], Marks]) -> Iterator[tuple[float, Chosen]]:
    """Some lines after each other, and how good they are to look at: many lines with a mark, and many without one."""
    lines = explained(profile, toolpath)
    marked = [marks(line) for line in lines]
    for first in range(0, max(len(lines) - LINES, 0) + 1, 3):
        some = slice(first, first + LINES)
        count = sum(any(one) for one in marked[some])
        shares = sum(sum(one) / len(one) for one in marked[some] if one)
        if count:
            yield count - 0.6 * shares - 0.01 * first / max(len(lines), 1), (profile, toolpath.name, lines[some], tuple(marked[some]))


def drawing(found: Chosen) -> str:
    """The lines as a file of their own; a marked word has a ground of its own and a line below it."""
    profile, toolpath, lines, marked = found
    parts = []
    for at, (line, marks) in enumerate(zip(lines, marked, strict=True)):
        y = HIGH * (at + 1)
        parts.append(f'<text class="number" x="44" y="{y}" text-anchor="end">{line.number}</text>')
        column = begin = 0
        for word, mark in zip(line.words, marks, strict=True):
            begin = line.text.find(word.word, begin)
            said = word.word[: MOST_COLUMNS - begin]
            if begin < 0 or not said:
                break
            x, wide = 60 + WIDE * begin, WIDE * len(said)
            if mark:
                parts.append(f'<rect class="mark" x="{x - 2}" y="{y - 16}" width="{wide + 4}" height="{HIGH - 1}"/>')
                parts.append(f'<path class="under" d="M{x - 2} {y + 5}h{wide + 4}"/>')
            parts.append(f'<text class="word" x="{x}" y="{y}" textLength="{wide}" xml:space="preserve">{escape(said)}</text>')
            begin += len(word.word)
            column = max(column, begin)
    style = STYLE.replace(
        "</style>",
        "text.word, text.number { font: 15px ui-monospace, 'DejaVu Sans Mono', 'Liberation Mono', Consolas, monospace }\n"
        "text.number { fill: var(--soft) }\n.mark { fill: var(--mark) }\n.under { stroke: var(--ink); stroke-width: 1.5 }\n</style>",
    )
    wide, high = 80 + WIDE * MOST_COLUMNS, HIGH * len(lines) + 16
    words = f"Lines {lines[0].number} to {lines[-1].number} of what {profile} writes of {toolpath}"
    return svg(wide, high, words, style + "".join(parts))


def alt(found: Chosen) -> str:
    """What is to be seen."""
    profile, toolpath, lines, marked = found
    words = [word.word for line, marks in zip(lines, marked, strict=True) for word, mark in zip(line.words, marks, strict=True) if mark]
    first = ", ".join(word.replace("[", "(").replace("]", ")") for word in dict.fromkeys(words))[:90].rstrip(", ")
    where = f"Lines {lines[0].number} to {lines[-1].number} of what {profile} writes of {toolpath.removesuffix('.toolpath.json')}"
    return f"{where}; marked: {first}"


def settings_picture(group: str) -> tuple[str, str]:
    """Of a group of settings: the picture's file, from the folder of the generated pages, and what is to be seen on it."""
    if group in ELSEWHERE:
        name, words = ELSEWHERE[group]
        return f"../pictures/{name}-light.webp", words
    return f"drawings/settings-{group}.svg", alt(chosen(by_settings(group)))


def pages(groups: list[str]) -> dict[str, str]:
    """The drawings."""
    found = {f"drawings/settings-{group}.svg": drawing(chosen(by_settings(group))) for group in groups if group not in ELSEWHERE}
    return found | {"drawings/templates.svg": drawing(chosen(by_templates))}
