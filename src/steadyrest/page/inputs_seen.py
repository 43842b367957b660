"""What the inputs of a job hold, as JSON can say it: read once for each content, kept for this run, and compared in plain words.

A long input is read in a process of its own. The key of what was read is made of the files' bytes and of what the job says about them, so
that it is read anew exactly when one of them changed, and everybody who shows a page can ask whether that is so.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np

from steadyrest.errors import InputError
from steadyrest.inputs import Job, files_of, load_job, overview
from steadyrest.page.app import Page
from steadyrest.page.folder import file_digest
from steadyrest.page.job_file import JobFile
from steadyrest.progress import SURVEYING, Progress, Work
from steadyrest.toolpath import Toolpath, operation_facts
from steadyrest.writing import put_in_place

LONG_BYTES = 5_000_000
"""Inputs of more bytes than this are read in a process of their own."""
FACTS = "facts.json"
MOST_CHANGES = 12
"""Sentences about what changed; the rest is counted."""


def key_of(job: JobFile) -> str:
    """What decides how the inputs of a job are read: letters and digits."""
    assert job.job is not None
    said = job.job.model_dump(mode="json", by_alias=True, exclude={"post", "setup"})
    told = json.dumps([str(job.path), said, {str(file): file_digest(file) for file in files_of(job.path)[1:]}], sort_keys=True)
    return "part" + hashlib.sha256(told.encode()).hexdigest()[:24]


def begin_reading(page: Page, job: JobFile) -> str:
    """Read the inputs of a job unless that is done or under way: short ones now, long ones beside the page. Gives the key."""
    assert job.job is not None
    key = key_of(job)
    if page.tasks.state(key)["status"] not in ("done", "running"):
        if is_long(job):
            page.tasks.start(key, read_inputs, {"job": str(job.path), "folder": str(page.folder.path)})
        elif not (page.tasks.folder / key / FACTS).is_file():
            (page.tasks.folder / key).mkdir(parents=True, exist_ok=True)
            _keep(page.tasks.folder / key, facts_of(job.job, name_in(page.folder.path)))
    return key


def is_long(job: JobFile) -> bool:
    """Whether its inputs take a while to read."""
    total = 0
    for file in files_of(job.path)[1:]:
        with suppress(OSError):
            total += file.stat().st_size
    return total > LONG_BYTES


def seen(page: Page, key: str) -> dict[str, Any] | None:
    """The facts of that key as `facts_of` gives them; None as long as they are not known."""
    if not key.isalnum():  # an address may say anything
        return None
    with suppress(OSError, ValueError):
        found = json.loads((page.tasks.folder / key / FACTS).read_text(encoding="utf-8"))
        return found if isinstance(found, dict) else None
    return None


def read_inputs(folder: Path, asked: dict[str, Any], progress: Progress) -> None:
    """The work of a task: the facts of a job's inputs, put into its folder."""
    job = load_job(Path(asked["job"]))
    _keep(folder, facts_of(job, name_in(Path(asked["folder"])), progress))


def facts_of(job: Job, name: Callable[[str], str], progress: Progress | None = None) -> dict[str, Any]:
    """What the inputs of a job hold.

    name      how a file is called on the page
    returns   `whole`, `needs_stock`, `missing`: as of an Overview; `error`: of all together;
              `inputs`: kind, speaks, units, which operations, notices and error of each;
              `toolpath`: name, units, axis, centre, stock, clearance, tools, operations with their facts and a rough `path`; None where
              there is none. What stands in for something missing is among it.
    """
    found = overview(job.inputs, job.part, progress)
    told: dict[str, Any] = {
        "whole": found.whole,
        "needs_stock": found.needs_stock,
        "missing": [{"number": each.number, "name": each.name, "diameter": each.diameter, "why": each.why} for each in found.missing],
        "error": _told(found.error),
        "inputs": [
            {
                "file": name(each.file),
                "kind": each.kind,
                "speaks": each.speaks,
                "units": each.units,
                "first": each.first,
                "operations": each.operations,
                "notices": list(dict.fromkeys(notice.place.before(notice.sentence()) for notice in each.notices)),
                "error": _told(each.error),
            }
            for each in found.inputs
        ],
        "toolpath": None,
    }
    if found.toolpath is not None:
        try:
            told["toolpath"] = _toolpath(found.toolpath, progress)
        except InputError as error:  # long tables are read as they stream
            told["error"], told["whole"] = _told(error), False
    return told


def _toolpath(toolpath: Toolpath, progress: Progress | None) -> dict[str, Any]:
    operations = []
    work = Work(progress, SURVEYING, len(toolpath.operations))
    for each in work.through(operation_facts(toolpath), lambda each: each.number):
        fields = {field: getattr(each, field) for field in each.__dataclass_fields__ if field != "path"}
        path = [None if np.isnan(row[0]) else [round(value, 3) for value in row] for row in each.path.tolist()]
        operations.append({**fields, "path": path})
    return {
        "name": toolpath.name,
        "units": toolpath.units,
        "axis": toolpath.axis,
        "centre": list(toolpath.centre),
        "stock": toolpath.stock.model_dump(mode="json", by_alias=True, exclude_none=True) if toolpath.stock is not None else None,
        "clearance": toolpath.clearance,
        "tools": [tool.model_dump(mode="json", by_alias=True, exclude_none=True) for tool in toolpath.tools],
        "operations": operations,
    }


def changes(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """What is different in what was read, in plain sentences, the weightiest first; empty where all these figures are the same."""
    said: list[str] = []
    for each in now["inputs"]:
        if each["error"] is not None:
            said.append(f"{each['file']} cannot be read as it is now: {each['error']['wrong']}")
    if now["error"] is not None:
        said.append(f"The files do not go together as they are now: {now['error']['wrong']}")
    old, new = before["toolpath"], now["toolpath"]
    if old is None or new is None:
        return said
    units = new["units"]
    if old["units"] != units:
        said.append(f"The unit is {units}; it was {old['units']}.")
    were, are = ([named(each) for each in whole["operations"]] for whole in (old, new))
    gone, added = (list((Counter(one) - Counter(other)).elements()) for one, other in ((were, are), (are, were)))
    said += [f"New operation: {each}." for each in added] + [f"Operation gone: {each}." for each in gone]
    if not gone and not added and were != are:
        said.append("The operations come in another order.")
    known: dict[str, list[Any]] = {}
    for each in old["operations"]:
        known.setdefault(named(each), []).append(each)
    for each in new["operations"]:
        if namesakes := known.get(named(each)):
            said += _operation_changes(namesakes.pop(0), each, units)
    tools, others = ({tool["number"]: tool for tool in whole["tools"]} for whole in (old, new))
    said += [f"Tool {number} is new." for number in sorted(others.keys() - tools.keys())]
    said += [f"Tool {number} is not used any more." for number in sorted(tools.keys() - others.keys())]
    said += [
        f"Tool {number} is described differently." for number in sorted(tools.keys() & others.keys()) if tools[number] != others[number]
    ]
    said += [
        f"{words} is different."
        for words, key in (("The stock", "stock"), ("The axis", "axis"), ("The centre", "centre"))
        if old[key] != new[key]
    ]
    left = len(said) - MOST_CHANGES
    return [*said[:MOST_CHANGES], f"And {left} more differences."] if left > 1 else said


def _operation_changes(old: Mapping[str, Any], new: Mapping[str, Any], units: str) -> list[str]:
    before, now = _in_words(old, units), _in_words(new, units)
    told = [f"{what} {said}, was {before[what]}" for what, said in now.items() if said != before[what]]
    if not told and old["path"] != new["path"]:
        told.append("another path within the same reach")
    return [f"{named(new)}: {'; '.join(told)}."] if told else []


def _in_words(one: Mapping[str, Any], units: str) -> dict[str, str]:
    """What can be told of an operation, in the order in which it is."""
    spans = {"feed": "feeds", "along the axis": "along", "from the axis": "radius"}
    return {
        "tool": str(one["tool"]),
        "intent": str(one["intent"]),
        "angles": _numbers(one["angles"]),
        "planes": str(one["planes"]),
        "spindle": f"{one['rpm']:g} rpm {one['turns']}",
        "coolant": str(one["coolant"]),
        **{what: span_text(one[key], units) for what, key in spans.items()},
        "moves": f"{one['moves']:,}",
    }


def named(operation: Mapping[str, Any]) -> str:
    """What an operation is called in a sentence."""
    return f"'{operation['name']}'" if operation["name"] else f"operation {operation['number']}"


def _numbers(values: Sequence[float]) -> str:
    shown = ", ".join(f"{value:g}" for value in values[:12])
    return (f"{shown} and {len(values) - 12} more" if len(values) > 12 else shown) or "none"


def span_text(span: Sequence[float] | None, units: str) -> str:
    """From where to where, in as many decimals as one reads: hundredths of a mm, thousandths of an inch."""
    if span is None:
        return "nothing cut"
    low, high = (f"{round(value, 3 if units == 'inch' else 2) + 0.0:g}" for value in span)
    return low if low == high else f"{low} to {high}"


def _told(error: InputError | None) -> dict[str, str] | None:
    return {"wrong": error.wrong, "cure": error.cure, "text": str(error), "place": str(error.place)} if error is not None else None


def _keep(folder: Path, facts: dict[str, Any]) -> None:
    put_in_place([json.dumps(facts).encode()], folder / FACTS).commit()


def name_in(folder: Path) -> Callable[[str], str]:
    """How files are called on the page: from its folder."""

    def name(file: str) -> str:
        with suppress(ValueError):
            return Path(os.path.realpath(file)).relative_to(folder).as_posix()
        return file

    return name
