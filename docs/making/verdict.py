"""The JSON of `post --json` and `prove --json`, key by key, with a real one; and what the proof can find."""

from __future__ import annotations

import ast
import json
import typing
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from making import terminals
from making.markdown import block, code, page, table, text
from making.messages import SOURCE, said_in
from making.stated import ROOT
from steadyrest.findings import MEANINGS
from steadyrest.posting import Posted, post, prove
from steadyrest.proof import NOT_SEEN, NOT_SEEN_ON_CHAINS, RULES, SCHEMA, MismatchKind
from steadyrest.request import Request

KEYS = {
    "outcome": "`run`: proved, simulated, nothing found; `look`: proved, with something a person has to look at; `stop`: it must not run",
    "findings": "what was found, the heaviest first, a cause before its consequences",
    "findings.name": "its name, one of those [listed below](#findings): the name for `--accept`",
    "findings.weight": "`stop` or `look`",
    "findings.sentence": "what was found, in a sentence; lengths have their unit",
    "findings.line": "line of the program; null where it belongs to none",
    "findings.operation": "number of the operation; null for the whole program",
    "findings.move": "number of the move; null where it belongs to none",
    "findings.count": "how many times",
    "findings.accepted": "true: it would have stopped the program, and the user has accepted it with `--accept`",
    "findings.consequences": "what follows from it and would not be there without it: findings of the same form",
    "findings.lines": "where it goes on over several lines without a break, the first and the last of them; null otherwise",
    "program": "the program's file",
    "name": "name of the part, from the toolpath",
    "controller": "name of the profile",
    "gauge_lengths": "the gauge lengths that were given, one entry for each tool",
    "gauge_lengths.tool": "number of the tool",
    "gauge_lengths.length": "from its tip to the gauge line of its holder",
    "schema": "version of this form; within one version keys are only ever added, and never change their meaning",
    "proved": "true: the program cuts what the toolpath asks for",
    "units": "`mm` or `inch`, those of the toolpath: the unit of every length here",
    "tolerance": "how far the tip may leave its path, part frame",
    "farthest": "the largest distance found, either way, an upper bound over the whole program",
    "operations": "one entry for each operation that was gone through, wholly or up to the failure",
    "operations.number": "number of the operation, from 1",
    "operations.name": "its name",
    "operations.intent": "`indexed`, `wrapped`, `simultaneous` or `still`",
    "operations.tool": "number of its tool",
    "operations.tip_off_path": "the farthest that the tip gets from the intended path, an upper bound, not a sample",
    "operations.path_off_tip": "the farthest that the intended path gets from the tip's: what was left out shows here",
    "operations.limit": "what was allowed at `radius`: tolerance and the rounding of words",
    "operations.rounding": "the share of rounding in it",
    "operations.radius": "the distance from the axis of rotation at which `limit` holds: it grows with the radius, as angles are rounded",
    "operations.axis_off_deg": "the largest angle between the tool axis asked for and the one cut, degrees",
    "operations.axis_limit_deg": "what was allowed of it, degrees",
    "operations.faster_percent": "how much the tip is faster than the feed at worst, percent",
    "operations.axis_off_at_pole_deg": "with two rotaries: of `axis_off_deg` the largest within 12 degrees of a pole, degrees",
    "operations.uneven_percent": "with two rotaries or a head: how far the tip's speed rises over the mean of a block at worst, percent",
    "operations.slowed_blocks": "how many blocks a limit of the machine or of F holds back",
    "operations.slowest_percent": "the speed of the slowest of them, percent of its feed",
    "operations.slowest_lines": "the first and the last line of the slowed stretch that it is in; null where nothing is slowed",
    "operations.moves": "cutting moves of the toolpath, counted at each angle",
    "operations.blocks": "blocks of the program",
    "operations.holes": "holes",
    "operations.lifted": "how often the tool was lifted out of a cut and came back to it (to turn back)",
    "operations.lifted_lines": "the lines of the program that leave a cut so",
    "operations.last_line": "the last line of the program that belongs to it",
    "operations.cutting_minutes": "time at feed and of the moves out and back between the pecks of a hole, minutes",
    "operations.rapid_minutes": "time at rapid, minutes, from the profile's highest speeds",
    "operations.reach": "lowest and highest place of the tip along the axis of rotation, work coordinates, at feed and at rapid below the "
    "clear height; null where there is no such motion",
    "operations.reach_lines": "the lines of the program that go there; null likewise",
    "whole": "the whole program",
    "whole.lines": "lines of the program",
    "whole.tools": "the tools, in the order in which they come",
    "whole.extents": "for `X`, `Y`, `Z` the lowest and the highest position, work coordinates; null where none is known",
    "whole.extents.X": "lowest and highest X",
    "whole.extents.Y": "lowest and highest Y",
    "whole.extents.Z": "lowest and highest Z",
    "whole.rotary_extent_deg": "lowest and highest angle of the rotary, as commanded by the program, degrees; null without a rotary",
    "whole.turning_of_deg": "with two rotaries or a head: how far each turns in all, by its letter, degrees",
    "whole.gauge_lengths": "where a head turns: the gauge lengths that were taken for granted, by tool, in units",
    "whole.rotary_extents_deg": "with two rotaries or a head: lowest and highest angle of each by its letter, as commanded, degrees",
    "whole.turning_deg": "how far it turns in all, degrees",
    "whole.rapid_turning_deg": "how much of that it turns at rapid, degrees",
    "whole.fastest_rotary_deg_per_min": "its highest speed at feed, degrees per minute",
    "whole.cutting_minutes": "time at feed of the whole program, as in `operations.cutting_minutes`, minutes",
    "whole.rapid_minutes": "time at rapid, minutes",
    "whole.end_for_end": "true: the chuck is not at the end where the stock is held, so the job is turned by half a turn about Z",
    "failure": "null where proved; else the first thing that differs",
    "failure.kind": "what kind of difference: see below",
    "failure.rule": "the name of the broken rule, more exact than the kind",
    "failure.sentence": "what differs, in a sentence",
    "failure.line": "line of the program; null where it has ended",
    "failure.operation": "number of the toolpath's operation",
    "failure.operation_name": "its name",
    "failure.angle_deg": "at which of its angles, degrees, where it is indexed; else null",
    "failure.plane": "in which of its planes, from 1, where it is indexed in planes; else null",
    "failure.move": "number of the toolpath's move; null where it is between two",
    "failure.distance": "how far off; null where it is no matter of distance",
    "failure.cause": "the likeliest cause, in a sentence; null where none is likelier than another",
    "notices": "what the proof noticed about a program that it does not refuse, in sentences",
    "toolpath_digest": "SHA-256 of the toolpath's file",
    "profile_digest": "digest of the profile: of the settings that differ from the defaults",
    "not_seen": "what no proof of this kind sees, in sentences",
    "changed": "what was changed on the way from toolpath to program: one entry for each notice; empty from `prove`",
    "changed.kind": "the kind of notice: a name from the page about notices",
    "changed.operation": "number of the operation; null for the whole program",
    "changed.operation_name": "its name",
    "changed.move": "number of the move; null for the whole operation",
    "changed.sentence": "what happened, in a sentence",
}

KINDS = {
    "path": "the tip is too far from the path, or the path from the tip",
    "axis": "the tool axis has another angle to the part than asked",
    "order": "what is cut is cut in another order, or the other way round",
    "missing": "something that the toolpath asks for is not in the program",
    "extra": "the program cuts, or runs on, where the toolpath asks for nothing",
    "feed": "the tip is faster than its feed, or slower without a limit that explains it",
    "dwell": "a pause is missing, has another length, or is not asked for; pauses for spindle and clamp too",
    "hole": "a hole is missing, elsewhere, or of another depth or kind",
    "tool": "another tool cuts than asked",
    "spindle": "the spindle does not turn, turns the other way, or at another speed",
    "coolant": "coolant is on, off, or of another kind than asked",
    "stop": "a stop is missing, or is not asked for",
    "clamp": "the clamp is off in a cut that needs it, or on where the part turns",
    "turn": "the rotary turns where the tool can hit the part, or does not arrive from the side that the profile states",
    "rapid": "a rapid runs where it can hit the part, or a cut is made at rapid",
    "travel": "an axis goes past the travel that the profile states",
    "offset": "tool length or work offset is not the one that the profile states",
    "mode": "a mode that every program has to state, by its profile, is not stated before the first motion",
    "end": "spindle or coolant is still on at the end, or the end code is missing",
}


def pages() -> dict[str, str]:
    """One page."""
    proved, refused = samples()
    found = (
        dict(keys(proved))
        | dict(keys(refused))
        | dict.fromkeys((key for key in KEYS if key.startswith("changed.")), "text, or whole number")
    )
    order = [key for key in KEYS if key in found] + [key for key in found if key not in KEYS]
    rows = [(code(key), found[key], KEYS.get(key, "")) for key in order]
    said = {f"samples/{name}.txt": text_of + "\n" for name, text_of in samples_said().items()}
    return said | {
        "verdict.md": page(
            "The verdict as data",
            f"`--json` on `post` and `prove` prints this on stdout. The form is stable: `schema` is {SCHEMA}, and within one number keys "
            "are only ever added and never change their meaning, so a script should pass over keys that it does not know. Both print "
            "it for a program that must not run too, and exit with 3; `post` then adds [`error`](errors.md#as-data). "
            "[How to read it](../verdict.md) is a page of its own.",
            terminals.picture("refused"),
            "## Keys",
            table(["key", "is", "meaning"], rows),
            "## What can be found",
            "The `kind` of a failure, and sentences that go with it. Angle brackets stand for what is found at the time.",
            table(["kind", "means", "sentences, for example"], [(code(kind), KINDS.get(kind, ""), _said_of(kind)) for kind in kinds()]),
            "## Findings",
            "The `name` of a finding, as `--accept` takes it. Only `proof` cannot be accepted.",
            table(["name", "means"], [(code(name), text(meaning)) for name, meaning in MEANINGS.items()]),
            "## What no proof sees",
            "\n".join(f"* {text(sentence)}" for sentence in NOT_SEEN),
            "With two rotaries or a head besides:",
            "\n".join(f"* {text(sentence)}" for sentence in NOT_SEEN_ON_CHAINS),
            "## A proved program",
            block(json.dumps(_short(proved), indent=2), "json"),
            "## The same program, edited to turn to another angle",
            block(json.dumps({key: _short(refused)[key] for key in ("proved", "failure")}, indent=2), "json"),
        )
    }


def undescribed() -> list[str]:
    """Keys that real verdicts have and nothing is said about here, keys that are said to be there and are not, kinds likewise."""
    found = {key for sample in samples() for key, _ in keys(sample)}
    # There is nothing changed without a notice, and no length is given where no head turns.
    described = set(KEYS) - {key for key in KEYS if key.startswith(("changed.", "gauge_lengths."))}
    lacking = [f"key {key}" for key in found - set(KEYS)] + [f"no key {key}" for key in described - found]
    return sorted(lacking + [f"kind {kind}" for kind in set(kinds()) ^ set(KINDS)])


@cache
def _posted() -> tuple[Posted, Posted]:
    """A real program of the tour, and the same with a face cut at another angle."""
    toolpath = ROOT / "tests" / "golden" / "tour" / "indexed.toolpath.json"
    with TemporaryDirectory() as folder:
        program = Path(folder) / "indexed.nc"
        proved = post(Request(toolpath, "rs274ngc", program))
        written = program.read_text(encoding="ascii")
        assert "G0 A60\n" in written
        program.write_text(written.replace("G0 A60\n", "G0 A66\n", 1), encoding="ascii")
        refused = prove(program, Request(toolpath, "rs274ngc"))
    return replace(proved, program=Path("indexed.nc")), replace(refused, program=Path("indexed.nc"))


def samples() -> tuple[dict[str, Any], dict[str, Any]]:
    """Their verdicts as data."""
    proved, refused = _posted()
    return proved.as_json(), refused.as_json()


def samples_said() -> dict[str, str]:
    """Their verdicts as a person reads them."""
    proved, refused = _posted()
    return {"proved": proved.text(), "refused": refused.text()}


def keys(data: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, str]]:
    """Every key with its dotted name, those of entries of lists under the list's name; and the kind of its value."""
    for key, value in data.items():
        dotted = prefix + key
        yield dotted, _kind(value)
        inner = value[0] if isinstance(value, list) and value and isinstance(value[0], Mapping) else value
        if isinstance(inner, Mapping):
            yield from keys(inner, dotted + ".")


def kinds() -> tuple[str, ...]:
    """All kinds of differences."""
    return typing.get_args(MismatchKind)


def _kind(value: object) -> str:
    names = {bool: "true or false", int: "whole number", float: "number", str: "text", list: "list", tuple: "list", dict: "object"}
    return names.get(type(value), "null, or as described")


def _short(data: Mapping[str, Any]) -> dict[str, Any]:
    """With numbers short enough to read."""

    def short(value: Any) -> Any:
        if isinstance(value, float):
            return float(f"{value:.6g}")
        if isinstance(value, Mapping):
            return {key: short(inner) for key, inner in value.items()}
        return [short(each) for each in value] if isinstance(value, list | tuple) else value

    return {key: short(value) for key, value in data.items()}


def _said_of(kind: str) -> str:
    return "<br>".join(text(sentence) for sentence in _sentences().get(kind, [])[:6])


@cache
def _sentences() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for file in sorted((SOURCE / "proof").glob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Mismatch" and len(node.args) > 1:
                rule, sentence = node.args[0], said_in(node.args[1])
                if isinstance(rule, ast.Constant) and not sentence.startswith("<"):
                    found.setdefault(RULES[str(rule.value)], []).append(sentence)
    return found
