"""Is a profile right? All checks, in the order in which a mistake would make the next ones meaningless.

The tour is posted and proved, also under settings that nobody would choose: every program is proved, or refused in words, and never in
between.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from steadyrest.errors import ProfileError, SteadyrestError, TemplateError
from steadyrest.events import EVENTS
from steadyrest.profile import Profile, ResolvedProfile, folder_of, leaves, resolve
from steadyrest.profile_tools.check_files import Report, Result, check_effect, check_sources, check_templates
from steadyrest.profile_tools.settings import table_of, with_values
from steadyrest.profile_tools.trial import Trial, events_reached, program_text, tour, tried
from steadyrest.proof import prove
from steadyrest.toolpath import Toolpath, parse_toolpath

JUST_BEFORE_DEG = 359.98
"""A start at this angle crosses from one turn to the next within the first moves."""

Variant = tuple[str, Mapping[str, Any], bool]
"""A name, the settings that are changed, and whether the angles of the toolpaths are shifted."""


def check(name_or_path: str) -> Report:
    """Check a profile by its name or path: settings, templates, sources, effect, the tour, extreme settings.

    What is wrong with the profile is in the report; raises only ProfileError for a name or path that leads to no profile.
    """
    folder = folder_of(name_or_path)
    try:
        resolved = resolve(folder)
    except ProfileError as error:
        found = (Result("settings", each.place.key or "controller.toml", "wrong", each.alone()) for each in (error, *error.also))
        return Report(folder.name, tuple(found))
    return Report(folder.name, tuple(_results(resolved)))


def _results(resolved: ResolvedProfile) -> Iterator[Result]:
    yield Result("settings", "controller.toml", "good", "all known, valid, and possible together")
    toolpaths = tour()
    reached = events_reached(toolpaths.values(), resolved)
    templates = list(check_templates(resolved, reached))
    yield from templates
    yield from check_sources(resolved.chain[0])
    if any(result.level == "wrong" for result in templates):
        return
    yield from check_effect(resolved, toolpaths)
    yield from check_tour(tried(toolpaths, resolved))
    if missed := sorted(EVENTS.keys() - reached):
        yield Result("tour", f"{len(missed)} event(s)", "good", f"not in any of its programs: {', '.join(missed)}")
    yield from check_extreme_settings(resolved, toolpaths)


def check_tour(trials: Mapping[str, Trial]) -> Iterator[Result]:
    """A result for each toolpath: proved, refused in words because the controller cannot, or wrong."""
    for name, trial in trials.items():
        if trial.verdict is not None and trial.verdict.proved:
            whole, verdict = trial.verdict.whole, trial.verdict
            words = f"proved: {whole.lines} lines, at most {verdict.farthest:.4f} {verdict.units} off the toolpath"
            yield Result("tour", name, "good", words)
        elif trial.outcome == "refused" and isinstance(trial.error, TemplateError):
            yield Result("tour", name, "wrong", trial.words)
        elif trial.outcome == "refused" and trial.error is not None:
            where = str(replace(trial.error.place, file=None))  # the file is the tour's
            words = f"{where}: {trial.error.wrong}" if where else trial.error.wrong
            yield Result("tour", name, "good", f"not for this controller: {words}")
        elif trial.outcome == "not proved":
            yield Result("tour", name, "refused", f"the program does not cut what the toolpath asks for: {trial.words}")
        else:
            yield Result("tour", name, "refused", f"{trial.words}; nothing is proved; please report it with this profile")
    if trials and not any(trial.outcome in ("proved", "not proved") for trial in trials.values()):
        words = "no toolpath of the tour can be written for this profile, so nothing about it is proved"
        yield Result("tour", "all", "wrong", f"{words}; read the reasons above")


def variants(profile: Profile) -> list[Variant]:
    """The extreme settings for one profile."""
    coarse = {key: min(value, 1) for key, value in leaves(table_of(profile)).items() if key.endswith("decimals") and value is not None}
    found: list[Variant] = [
        ("coarse numbers", {**coarse, "numbers.feed.decimals": 0, "numbers.feed.inch_decimals": 0}, False),
        ("inches", {"units.program": "inch"}, False),
        ("millimetres", {"units.program": "mm"}, False),
    ]
    if not profile.rotary:
        return found
    narrow = {"travel.from": -185, "travel.to": 185, "travel.kind": "limited"}
    of_rotaries: list[Variant] = [
        *((f"narrow travel, {rule}", {**narrow, "travel.when_exceeded": rule}, False) for rule in ("turn_back", "refuse")),
        ("rollover, shortest, start near the wrap", {"travel.kind": "rollover", "travel.rule": "shortest"}, True),
        ("rollover, sign, start near the wrap", {"travel.kind": "rollover", "travel.rule": "sign"}, True),
        ("start near the wrap", {}, True),
        ("always from one side", {"unwinding.between": "one_side"}, False),
    ]
    for name, values, shifted in of_rotaries:
        found.append((name, {f"rotary.{letter}.{key}": each for letter in profile.rotary for key, each in values.items()}, shifted))
    return found + [(f"{what} reversed", turned(profile, what), False) for what in ("chuck_faces", "positive_turns_chuck")]


def check_extreme_settings(resolved: ResolvedProfile, toolpaths: Mapping[str, Toolpath]) -> Iterator[Result]:
    """A result for each variant, then whether the proof sees a part that would come out mirrored."""
    near = {name: near_the_wrap(toolpath) for name, toolpath in toolpaths.items()}
    for name, values, shifted in variants(resolved.profile):
        try:
            changed = replace(resolved, profile=with_values(resolved.profile, values))
        except ProfileError as error:
            yield Result("extreme", name, "good", f"refused as a profile: {error.wrong}")
            continue
        trials = tried(near if shifted else toolpaths, changed)
        outcomes = [trial.outcome for trial in trials.values()]
        words = [f"{outcomes.count('proved')} proved", f"{outcomes.count('refused')} refused with a reason"]
        bad = {outcome: [f"{each}: {trial.words}" for each, trial in trials.items() if trial.outcome == outcome] for outcome in outcomes}
        if broken := bad.get("broken"):
            yield Result("extreme", name, "refused", "; ".join([*words, *broken]))
        elif doubted := bad.get("not proved"):
            words += [f"{len(doubted)} written and refused by the proof", *doubted[:2]]
            yield Result("extreme", name, "remark", "; ".join(words))
        else:
            yield Result("extreme", name, "good", ", ".join(words))
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


def _check_mounting(resolved: ResolvedProfile, toolpaths: Mapping[str, Toolpath]) -> Iterator[Result]:
    """Both facts turned round are the same mounting, so the same program; one of them is a mirrored part, which the proof must see."""
    profile = resolved.profile
    if not profile.rotary:
        return
    try:
        both = replace(resolved, profile=with_values(profile, turned(profile, "chuck_faces", "positive_turns_chuck")))
        other = replace(resolved, profile=with_values(profile, turned(profile, "chuck_faces")))
    except ProfileError as error:
        yield Result("extreme", "the part's direction of turn", "wrong", str(error))
        return
    unequal, seen, unseen = list[str](), list[str](), list[str]()
    for name, toolpath in toolpaths.items():
        if toolpath.stock is not None:  # without a held end nothing is turned end for end: the two facts alone count
            toolpath = toolpath.model_copy(update={"stock": toolpath.stock.model_copy(update={"held": None})})
        here = _blocks(program_text(toolpath, resolved))
        if here != _blocks(program_text(toolpath, both)):
            unequal.append(name)
        mirrored = program_text(toolpath, other)
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


def _proved(text: str, toolpath: Toolpath, profile: Profile) -> bool:
    try:
        return prove(text.encode("ascii"), toolpath, profile).proved
    except SteadyrestError:
        return False


def _blocks(text: str) -> list[str]:
    """The lines without the comments, one of which names the mounting."""
    lines = (line.split("(")[0].split(";")[0].strip() for line in text.splitlines())
    return [line for line in lines if line]
