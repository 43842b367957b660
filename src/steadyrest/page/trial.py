"""Is a copy that was changed by hand still right? Asked while somebody types, answered by the proof alone."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from threading import Lock
from typing import Any

from steadyrest.errors import Cancelled, ProgramError
from steadyrest.explaining import lines_of
from steadyrest.page.edited import Change, change_at, edited, said
from steadyrest.page.job_file import read_job_file
from steadyrest.page.tasks import Tasks
from steadyrest.posting import prove
from steadyrest.profile import resolve
from steadyrest.progress import Progress
from steadyrest.proof import setting_of
from steadyrest.request import Request
from steadyrest.summary import Posted
from steadyrest.viewer import both_sides

AT_ONCE = 20_000
"""Lines that are proved while the page waits; longer programs are proved by a task."""
KEPT = 2
"""Answers that are kept for one asker: so a change that is taken back is judged at once."""
_LATEST: dict[str, object] = {}
_LOCK = Lock()


def tried(posted: bytes, changes: Sequence[Change], request: Request, progress: Progress | None = None) -> dict[str, Any]:
    """Prove a program with its changes.

    posted    the program as it was written
    returns   outcome   `run`, `look` or `stop`; None where the copy is not in the controller's language
              line, sentence, distance, units, cause   of the first difference, each None where there is none; `words`: the change there
              beside    what the toolpath asks for and what the copy does there: two drawings with their words (`SideBySide`); None where
                        there is nothing to compare
              findings  what was found, the heaviest first: `weight`, `text`, `line`
              changes   each with `at`, its first line in the copy, and `words`
              text      what a terminal would show
    raises    InputError where toolpath or profile are wrong; Cancelled, or whatever else `progress` raises
    """
    was = lines_of(posted)
    told, shift = [], 0
    for one in changes:
        told.append({**one.as_json(), "at": one.first + shift, "was": was[one.first - 1 : one.last], "words": said(one, was)})
        shift += len(one.lines) - (one.last - one.first + 1)
    result: dict[str, Any] = dict.fromkeys(("outcome", "line", "operation", "sentence", "distance", "units", "cause", "words", "beside"))
    result.update(changes=told, findings=[])

    def at(line: int | None) -> str | None:
        change = change_at(changes, line) if line is not None else None
        return said(change, was) if change is not None else None

    try:
        found = prove(edited(posted, changes), request, progress)
    except ProgramError as error:
        line = error.place.line
        return {**result, "line": line, "sentence": error.wrong, "cause": error.cure, "words": at(line), "text": str(error)}
    failure = found.verdict.failure
    if failure is not None:
        place = failure.place
        result.update(line=place.line, operation=place.operation, sentence=failure.sentence, cause=failure.cause or None)
        result.update(distance=failure.distance, units=found.verdict.units, words=at(place.line), beside=_beside(found, request))
    findings = [{"name": one.name, "weight": one.weight, "text": text, "line": one.line} for one, text in found.said]
    return {**result, "outcome": found.outcome.word, "summary": found.outcome.line, "findings": findings, "text": found.text()}


def _beside(found: Posted, request: Request) -> dict[str, Any] | None:
    """The first difference as the report shows it."""
    failure = found.verdict.failure
    if failure is None or failure.difference is None:
        return None
    profile = resolve(request.named_controller, request.sets, unset=request.unset).profile
    shown = both_sides(failure.difference, setting_of(found.toolpath, profile, None, request.tolerance, request.gauge_lengths))
    return {name: str(getattr(shown, name)) for name in ("asked", "found", "name", "apart", "why_not", "asked_place", "found_place")}


def proved_now(asker: str, posted: bytes, changes: Sequence[Change], request: Request) -> dict[str, Any]:
    """`tried`, given up with Cancelled as soon as the same asker, such as a tab of the browser, asks anew."""
    mine = object()
    with _LOCK:
        _LATEST[asker] = mine

    def still(stage: str, done: int, total: int) -> None:
        if _LATEST.get(asker) is not mine:
            raise Cancelled("other changes are asked about by now", cure="look at their answer")

    try:
        return tried(posted, changes, request, still)
    finally:
        with _LOCK:
            if _LATEST.get(asker) is mine:
                del _LATEST[asker]


def proved_beside(tasks: Tasks, asker: str, made: str, program: Path, changes: Sequence[Change], job: Path) -> str:
    """Begin to prove a long copy in a process of its own, in place of what the same asker asked before; its key, by which the answer of
    `tried` is found as the task's result.

    made      the key of what decides the program and its proof
    program   the file of the program as it was written
    """
    whose = f"trial-{hashlib.sha256(asker.encode()).hexdigest()[:12]}-"
    key = whose + hashlib.sha256(repr((made, *changes)).encode()).hexdigest()[:32]
    tasks.start(key, _work, {"program": str(program), "changes": [one.as_json() for one in changes], "job": str(job)})
    tasks.forget(whose, but=key, kept=KEPT)
    return key


def _work(folder: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    changes = [Change(one["first"], one["last"], tuple(one["lines"])) for one in asked["changes"]]
    return tried(Path(asked["program"]).read_bytes(), changes, read_job_file(Path(asked["job"])).request, progress)
