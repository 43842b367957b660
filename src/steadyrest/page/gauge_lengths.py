"""Gauge lengths, of every tool that cuts where a head turns: what the job says, what is missing, and what was typed as the job keeps it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from steadyrest.inputs import ToolOfInput
from steadyrest.page.fields import Control, Typed, Wrongs, controls, read, written, wrongs_of
from steadyrest.page.standing import Standing
from steadyrest.profile import chain_of
from steadyrest.toolpath import Tool

KEY = "gauge_length"


def tools(now: Standing) -> list[Tool]:
    """The tools whose gauge lengths are needed: those that cut, where a head turns. None elsewhere, or where the part cannot be read."""
    chain = chain_of(now.resolved.profile) if now.resolved is not None else None
    if chain is None or not chain.tool or now.toolpath is None:
        return []
    return [now.toolpath.tool(number) for number in sorted({each.tool for each in now.toolpath.operations})]


def lacking(now: Standing) -> list[str]:
    """Those that the job does not say, as they are called."""
    return [f"T{tool.number}" for tool in tools(now) if tool.number not in now.job.request.gauge_lengths]


def entries(now: Standing, typed: Typed | None, wrongs: Wrongs) -> Iterator[Control]:
    """A control for each tool. `typed`: what was typed and is not kept."""
    lengths, units = now.job.request.gauge_lengths, now.toolpath.units if now.toolpath is not None else ""
    for tool in tools(now):
        prefix = f"tool.{tool.number}."
        held = typed or written(prefix + KEY, lengths.get(tool.number, ""))
        (one,) = controls(ToolOfInput, prefix, held, wrongs, units=units, only=[KEY]).values()
        if not one.value:
            one = replace(one, wrong="not known yet", cure="without it the program is refused")
        yield replace(one, label=f"T{tool.number} {tool.name}".rstrip(), hint=f"{tool.shape}, diameter {tool.diameter:g} {units}")


def said_so(now: Standing, typed: Typed) -> tuple[dict[str, Any], dict[str, tuple[str, str]]]:
    """The keys of the job file that were typed, as of `changed_text`, and what is wrong by control; an empty one is said no more."""
    assert now.job.job is not None
    kept, gone = list(now.job.job.tools), []
    keys: dict[str, Any] = {}
    wrongs: dict[str, tuple[str, str]] = {}
    numbers = [tool.number for tool in kept]
    for number in (tool.number for tool in tools(now)):
        prefix = f"tool.{number}."
        value = read(ToolOfInput, prefix, typed, only=[KEY]).get(KEY)
        if value is not None:
            wrongs |= wrongs_of(ToolOfInput, prefix, {"number": number, KEY: value})
            numbers += [] if number in numbers else [number]
            keys |= {f"tools.{numbers.index(number)}.{key}": said for key, said in (("number", number), (KEY, value))}
        elif number in numbers[: len(kept)]:
            at = numbers.index(number)
            gone.append((at, f"tools.{at}" + ("" if isinstance(kept[at], ToolOfInput) else f".{KEY}")))
    return {**keys, **dict.fromkeys(key for _, key in sorted(gone, reverse=True))}, wrongs
