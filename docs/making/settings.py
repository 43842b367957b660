"""Every setting of a controller profile: meaning at the machine, unit, default, what is allowed, who states it and why."""

from __future__ import annotations

from making.markdown import code, page, table, target, text, toctree
from making.marked import ELSEWHERE, settings_picture
from making.marked import pages as marked_pages
from making.stated import Statement, bundled
from steadyrest.profile_tools import Group, Setting, general, groups
from steadyrest.schema_words import allowed, default


def anchor(key: str) -> str:
    """The name of the place where a setting is explained."""
    return "setting-" + key.replace(".", "-")


def pages() -> dict[str, str]:
    """One page a table of controller.toml, and one that lists all keys."""
    stated = [statement for profile in bundled() for statement in profile.statements]
    by_page: dict[str, list[Group]] = {}
    for group in groups():
        by_page.setdefault(group.name.split(".")[0] or "top", []).append(group)
    found = {f"settings/{name}.md": _page(name, inside, stated) for name, inside in by_page.items()}
    every = [(group, setting) for inside in by_page.values() for group in inside for setting in group.settings]
    rows = [
        (f"[`{setting.key}`](#{anchor(setting.key)})", text(setting.schema.get("description", "")), default(setting.schema))
        for _, setting in every
    ]
    found["settings/index.md"] = page(
        "Settings of a profile",
        "Every setting that a `controller.toml` can state. Lengths are in mm and angles in degrees, whatever the units of the program. "
        "`A` stands for the rotary's letter (A, B or C), `X` for any linear axis, `K` for the letter of a word.",
        "A profile states only what differs from its parent; a setting that no profile of the chain states has the built-in default. "
        "`steadyrest controller show rs274ngc` prints all settings of a profile, with the file of each value.",
        "Under *stated by* are the bundled profiles that state the setting, with the comment that gives the source. "
        "Numbers in square brackets there are sections of NISTIR 6556.",
        "![The step Profile of the page: the same settings by what they are about](../../pictures/page-profile-light.webp)",
        table(["setting", "meaning", "default"], rows),
        toctree(by_page),
    )
    return found | marked_pages(list(by_page))


def _page(name: str, inside: list[Group], stated: list[Statement]) -> str:
    title = "Before all tables" if name == "top" else f"[{name}]"
    file, words = settings_picture(name)
    at_work = "" if name in ELSEWHERE else "At work in a program of the tour, the words that these settings decide marked:"
    parts: list[str] = [at_work, f"![{words}](../{file})"]
    for group in inside:
        below = group.name and (group is not inside[0] or "." in group.name)
        if below:
            parts.append(f"## {code('[' + group.name + ']')}")
        parts += [text(group.about), _letters(group.name)]
        for setting in group.settings:
            parts += [
                target(anchor(setting.key)),
                f"{'###' if below else '##'} {code(setting.key)}",
                text(setting.schema.get("description", "")),
                _facts(setting),
            ]
            parts.append(_stated_by(setting, [one for one in stated if general(one.key) == setting.key]))
    return page(title, *parts)


def _letters(name: str) -> str:
    if name == "rotary.A":
        return "`A` is the letter of the rotary in programs; `[rotary.B]` and `[rotary.C]` have the same settings."
    if name == "linear.X":
        return "`[linear.Y]` and `[linear.Z]` have the same settings."
    return "`K` stands for the letter of the word." if name == "numbers.by_letter.K" else ""


def _facts(setting: Setting) -> str:
    facts = [f"* allowed: {allowed(setting.schema)}"]
    facts += [f"* unit: {setting.unit}"] if setting.unit else []
    facts.append(f"* default: {default(setting.schema) or 'none: the profile or a parent has to state it'}")
    return "\n".join(facts)


def _stated_by(setting: Setting, stated: list[Statement]) -> str:
    if not stated:
        return "No bundled profile states it: all of them have the default." if "default" in setting.schema else ""
    rows = [(f"[{one.profile}](#profile-{one.profile})", code(f"{one.key} = {one.toml}"), text(one.source)) for one in stated]
    return table(["stated by", "how", "where it comes from"], rows)
