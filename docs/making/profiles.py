"""The bundled profiles: what each speaks, in what it differs and why, and what it writes."""

from __future__ import annotations

from making.drawings import SIDES, mounting_of
from making.markdown import block, code, page, table, target, text, toctree
from making.settings import anchor
from making.stated import ROOT, Bundled, Statement, bundled
from steadyrest.profile_tools import general

MOST_LINES = 45


def pages() -> dict[str, str]:
    """One page a profile, and one that lists them."""
    found = {f"profiles/{each.name}.md": _page(each) for each in bundled()}
    rows = [(f"[{each.name}](#profile-{each.name})", text(each.profile.speaks)) for each in bundled()]
    found["profiles/index.md"] = page(
        "Bundled profiles",
        "Named for their language or for what they do. Start from the one that is nearest to your controller: `steadyrest controller new` "
        "makes a profile of your own that extends it, `steadyrest controller compare` shows in what two of them differ.",
        "![The pictures of the page from which the mounting of the day is chosen](../../pictures/page-today-light.webp)",
        table(["profile", "describes"], rows),
        toctree(each.name for each in bundled()),
    )
    return found


def _page(each: Bundled) -> str:
    parents = [folder.name for folder in each.resolved.chain[1:]]
    extends = "It extends " + ", which extends ".join(f"[{name}](#profile-{name})" for name in parents) + "." if parents else ""
    name, sample = _sample(each.name)
    said, drawn = mounting_of(each.name)
    return f"{target('profile-' + each.name)}\n" + page(
        each.name,
        f"**{text(each.profile.speaks)}**",
        text(each.head),
        extends + (" All settings that are not listed here are inherited." if extends else ""),
        f"{text(said[0].upper() + said[1:])}:",
        " ".join(f"![Drawn {one.view.title}: {said}](../drawings/{each.name}-{side}.svg)" for side, one in zip(SIDES, drawn, strict=True)),
        "## What it states",
        _statements(each),
        _templates(each),
        "## What it writes" if sample else "",
        f"The beginning of the program for the tour's part {code(name)}, from `tests/golden/{each.name}.golden`:" if sample else "",
        block(sample) if sample else "",
        _refusals(each.name),
    )


def _statements(each: Bundled) -> str:
    head = ["setting", "value", "parent" if len(each.resolved.chain) > 1 else "", "where it comes from"]
    rows = [[_link(one), code(one.toml), code(one.parent_toml) if one.parent_toml else "", text(one.source)] for one in each.statements]
    if len(each.resolved.chain) == 1:
        rows, head = [[row[0], row[1], row[3]] for row in rows], [head[0], head[1], head[3]]
    return table(head, rows)


def _link(one: Statement) -> str:
    return f"[`{one.key}`](#{anchor(general(one.key))})"


def _templates(each: Bundled) -> str:
    own = sorted((each.resolved.chain[0] / "templates").glob("*.j2"))
    shown = [f"Its own template {code(file.name)}:\n\n{block(file.read_text(encoding='utf-8'))}" for file in own]
    return "\n\n".join(["## Its own templates", *shown]) if shown else ""


def parts(name: str) -> dict[str, str]:
    """What a profile writes of each toolpath of the tour, from its golden file."""
    golden = ROOT / "tests" / "golden" / f"{name}.golden"
    if not golden.is_file():
        return {}
    found: dict[str, str] = {}
    title = ""
    for line in golden.read_text(encoding="utf-8").splitlines():
        if line.startswith("==== ") and line.endswith(" ===="):
            title = line[5:-5]
            found[title] = ""
        else:
            found[title] += line + "\n"
    return {title: said.strip("\n") for title, said in found.items()}


def _refused(said: str) -> bool:
    return said.split(":", 1)[0].endswith("Error")


def _sample(name: str) -> tuple[str, str]:
    """The part that shows most: indexed work where it is spoken, else the first that is."""
    written = {title: said for title, said in parts(name).items() if not _refused(said)}
    title = "indexed" if "indexed" in written else next(iter(written), "")
    lines = written.get(title, "").splitlines()
    more = [f"... {len(lines) - MOST_LINES} more lines"] if len(lines) > MOST_LINES else []
    return title, "\n".join([*lines[:MOST_LINES], *more])


def _refusals(name: str) -> str:
    rows = []
    for title, said in parts(name).items():
        if _refused(said):
            sentence = said.split(": ", 2)[-1].split("\n")[0]
            rows.append((code(title), text(sentence)))
    said = table(["part of the tour", "why not"], rows)
    return f"## What it refuses\n\n{said}" if said else ""
