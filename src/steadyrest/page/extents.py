"""What the cuts of a part leave of its stock, in sentences: past an end, in the jaws, how deep, and what touches nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from steadyrest.page.drawings import STOCK
from steadyrest.page.inputs_seen import named, span_text
from steadyrest.toolpath import Reach, reach, together


def reaches(found: Mapping[str, Any]) -> list[tuple[str, Reach]]:
    """The cuts of each operation against the stock, by its name; empty without stock. Of a tool whose shape is missing, its tip alone.

    found   facts of the inputs, as `facts_of` gives them
    """
    toolpath = found["toolpath"]
    if toolpath is None or toolpath["stock"] is None:
        return []
    missing = {each["number"] for each in found["missing"]}
    wide = {tool["number"]: tool["diameter"] for tool in toolpath["tools"] if tool["number"] not in missing}
    stock, axis, centre = STOCK.validate_python(toolpath["stock"]), toolpath["axis"], toolpath["centre"]
    return [
        (named(one), reach(stock, axis, centre, one["along"], one["radius"], wide.get(one["tool"], 0.0)))
        for one in toolpath["operations"]
        if one["along"] is not None
    ]


def extents(found: Mapping[str, Any]) -> list[tuple[str, bool]]:
    """Sentences, and whether each is one to act on."""
    each = reaches(found)
    whole = together(one for _, one in each)
    if whole is None:
        return []
    axis, units = found["toolpath"]["axis"], found["toolpath"]["units"]

    def size(value: float) -> str:
        return f"{span_text((value, value), units)} {units}"

    alone = "of the tip alone, as the shape of a tool is missing" if found["missing"] else "the width of the tool included"
    told = [(f"Cuts from {axis} {span_text(whole.cuts, units)}, {alone}; the stock is from {axis} {span_text(whole.stock, units)}.", False)]
    for left, end in zip(whole.left, whole.stock, strict=True):
        where = f"at the end at {axis} {span_text((end, end), units)}"
        told.append((f"{size(left)} left {where}." if left >= 0 else f"The tool reaches {size(-left)} past the stock {where}.", False))
    if whole.clear_of_jaws is not None and whole.clear_of_jaws >= 0:
        told.append((f"It stays {size(whole.clear_of_jaws)} clear of the jaws.", False))
    if whole.jaws is None:
        told.append(("Which end is in the jaws is not said.", False))
    deep = f", {size(whole.depth)} below the outermost surface" if whole.depth > 0 else ""
    told.append(
        (f"It comes to {size(whole.nearest)} from the axis of rotation{deep}; as it turns, the stock sweeps {size(whole.swept)}.", False)
    )
    return [*told, *((words, True) for words in _warned(each, size))]


def _warned(each: list[tuple[str, Reach]], size: Callable[[float], str]) -> Iterator[str]:
    for name, one in each:
        if one.depth <= 0:
            yield f"{name} cuts nothing: it stays {size(-one.depth)} outside of all that turns. Are stock and centre right?"
        elif not one.touches:
            yield f"{name} cuts nothing: it lies past the end of the stock. Do stock and toolpath count from the same origin?"
        elif one.clear_of_jaws is not None and one.clear_of_jaws < 0:
            yield f"{name} reaches {size(-one.clear_of_jaws)} into the jaws."
