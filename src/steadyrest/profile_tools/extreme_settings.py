"""Does a profile stay safe under settings that nobody would choose? Every program is proved, or refused in words, and never in between."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from steadyrest.errors import ProfileError, SteadyrestError
from steadyrest.profile import Profile, ResolvedProfile, leaves
from steadyrest.profile_tools.results import Result
from steadyrest.profile_tools.settings import table_of, with_values
from steadyrest.profile_tools.trial import Trial, program_text, tried
from steadyrest.proof import prove
from steadyrest.toolpath import Toolpath, parse_toolpath

JUST_BEFORE_DEG = 359.98
"""A start at this angle crosses from one turn to the next within the first moves."""


@dataclass(frozen=True, slots=True)
class Variant:
    """A name and what is changed: settings, or, with `shifted`, the angles of the toolpaths."""

    name: str
    values: Mapping[str, Any]
    shifted: bool = False


def variants(profile: Profile) -> list[Variant]:
    """The extreme settings for one profile."""
    coarse = {key: min(value, 1) for key, value in leaves(table_of(profile)).items() if key.endswith("decimals") and value is not None}
    found = [
        Variant("coarse numbers", {**coarse, "numbers.feed.decimals": 0, "numbers.feed.inch_decimals": 0}),
        Variant("inches", {"units.program": "inch"}),
        Variant("millimetres", {"units.program": "mm"}),
    ]

    def add(name: str, values: Mapping[str, Any], *, shifted: bool = False) -> None:
        found.append(Variant(name, {f"rotary.{letter}.{key}": each for letter in profile.rotary for key, each in values.items()}, shifted))

    if not profile.rotary:
        return found
    for rule in ("turn_back", "refuse"):
        add(f"narrow travel, {rule}", {"travel.from": -185, "travel.to": 185, "travel.kind": "limited", "travel.when_exceeded": rule})
    for rule in ("shortest", "sign"):
        add(f"rollover, {rule}, start near the wrap", {"travel.kind": "rollover", "travel.rule": rule}, shifted=True)
    add("start near the wrap", {}, shifted=True)
    add("always from one side", {"unwinding.between": "one_side"})
    return found + [Variant(f"{what} reversed", turned(profile, what)) for what in ("chuck_faces", "positive_turns_chuck")]


def check_extreme_settings(resolved: ResolvedProfile, toolpaths: Mapping[str, Toolpath]) -> Iterator[Result]:
    """A result for each variant, then whether the proof sees a part that would come out mirrored."""
    shifted = {name: near_the_wrap(toolpath) for name, toolpath in toolpaths.items()}
    for variant in variants(resolved.profile):
        try:
            profile = with_values(resolved.profile, variant.values)
        except ProfileError as error:
            yield Result("extreme", variant.name, "good", f"refused as a profile: {error.wrong}")
            continue
        yield _result(variant.name, tried(shifted if variant.shifted else toolpaths, profile, resolved.template_folders))
    yield from _check_mounting(resolved, toolpaths)


def near_the_wrap(toolpath: Toolpath) -> Toolpath:
    """The same toolpath, read again from its file, with the indexed angles and the start of wrapped paths just before a full turn."""
    assert toolpath.file is not None
    data = json.loads(Path(toolpath.file).read_text(encoding="utf-8"))
    for operation in data["operations"]:
        rotary = operation["rotary"]
        if rotary["intent"] == "indexed":
            rotary["angles"] = [angle + JUST_BEFORE_DEG for angle in rotary["angles"]]
        elif rotary["intent"] == "wrapped":
            rotary["start_angle"] = rotary.get("start_angle", 0) + JUST_BEFORE_DEG
    return parse_toolpath(data)


def turned(profile: Profile, *what: Literal["chuck_faces", "positive_turns_chuck"]) -> dict[str, str]:
    """The settings of a mounting with one fact, or both, turned round."""
    opposite = {"+": "-", "-": "+", "clockwise": "counterclockwise", "counterclockwise": "clockwise"}
    values = {f"rotary.{letter}.{key}": str(getattr(rotary, key)) for letter, rotary in profile.rotary.items() for key in what}
    return {key: opposite.get(value) or opposite[value[0]] + value[1] for key, value in values.items()}


def _result(name: str, trials: Mapping[str, Trial]) -> Result:
    outcomes = [trial.outcome for trial in trials.values()]
    words = [f"{outcomes.count('proved')} proved", f"{outcomes.count('refused')} refused with a reason"]
    bad = {outcome: [f"{each}: {trial.words}" for each, trial in trials.items() if trial.outcome == outcome] for outcome in outcomes}
    if broken := bad.get("broken"):
        return Result("extreme", name, "refused", "; ".join([*words, *broken]))
    if doubted := bad.get("not proved"):
        return Result("extreme", name, "remark", "; ".join([*words, f"{len(doubted)} written and refused by the proof", *doubted[:2]]))
    return Result("extreme", name, "good", ", ".join(words))


def _check_mounting(resolved: ResolvedProfile, toolpaths: Mapping[str, Toolpath]) -> Iterator[Result]:
    """Both facts turned round are the same mounting, so the same program; one of them is a mirrored part, which the proof must see."""
    profile, folders = resolved.profile, resolved.template_folders
    if not profile.rotary:
        return
    try:
        both = with_values(profile, turned(profile, "chuck_faces", "positive_turns_chuck"))
        other = with_values(profile, turned(profile, "chuck_faces"))
    except ProfileError as error:
        yield Result("extreme", "the part's direction of turn", "wrong", str(error))
        return
    unequal, seen, unseen = list[str](), list[str](), list[str]()
    for name, each in toolpaths.items():
        toolpath = _as_the_chuck_stands(each)
        here = _blocks(program_text(toolpath, profile, folders))
        if here != _blocks(program_text(toolpath, both, folders)):
            unequal.append(name)
        mirrored = program_text(toolpath, other, folders)
        if mirrored.startswith("refused: ") or _blocks(mirrored) == here:
            continue  # nothing turns in it
        (unseen if _proved(mirrored, toolpath, profile) else seen).append(name)
    if unequal:
        words = f"reversing both the chuck and its direction of turn changes the program, and must not: {', '.join(unequal)}"
        yield Result("extreme", "the part's direction of turn", "refused", words)
    if unseen:
        yield Result("extreme", "a mirrored part", "refused", f"the proof does not see it: {', '.join(unseen)}")
    elif seen:
        yield Result("extreme", "a mirrored part", "good", f"the proof refuses it: {', '.join(seen)}")


def _as_the_chuck_stands(toolpath: Toolpath) -> Toolpath:
    """The toolpath without a held end, so that nothing is turned end for end: the two facts alone count."""
    stock = toolpath.stock
    return toolpath if stock is None else toolpath.model_copy(update={"stock": stock.model_copy(update={"held": None})})


def _proved(text: str, toolpath: Toolpath, profile: Profile) -> bool:
    try:
        return prove(text.encode("ascii"), toolpath, profile).proved
    except SteadyrestError:
        return False


def _blocks(text: str) -> list[str]:
    """The lines without the comments, one of which names the mounting."""
    lines = (line.split("(")[0].split(";")[0].strip() for line in text.splitlines())
    return [line for line in lines if line]
