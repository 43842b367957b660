"""The step How it stands today: the machine, which way the chuck faces, which way a positive command turns, and the axis of rotation from
touches. What holds today only is kept in the job; what the machine is, in a profile of the shop's own.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import Response
from starlette.routing import Route

from steadyrest.centre import (
    Touches,
    centre_data,
    centre_text,
    find_centre,
    forget,
    place_of,
    place_text,
    places,
    remember,
    stated_by,
    uncertainties,
    usual,
)
from steadyrest.conventions import length
from steadyrest.errors import InputError, OutputError, Place, ProfileError, SteadyrestError
from steadyrest.page.app import back, check_own, in_thread, job_of, page_of, said, shown
from steadyrest.page.job_file import JobFile, changed_text, check_unchanged, save_job
from steadyrest.profile import Profile, ResolvedProfile, Rotary, find_profiles, resolve, rotaries_of
from steadyrest.profile_tools import is_ours
from steadyrest.proof import as_mounted
from steadyrest.reading import sigma
from steadyrest.request import files_of, load
from steadyrest.sheet import mounting_drawings
from steadyrest.toolpath import Toolpath
from steadyrest.turn_check import answers, face_question, mounting, planned_change, store, the_rotary, turn_check

TURNS = ("clockwise", "counterclockwise")
ANGLES = (0, 90, 180, 270)
TOUCHED = ("units", "diameter", "top", "side-one", "side-other", "tool", "touch-error", *(f"reading-{angle}" for angle in ANGLES))
"""Fields of the form of touches: the address carries them, so that a reload loses none."""


def _shown(asked: Asked, *, status: int = 200, wrong: Exception | None = None, change: Any = None) -> Response:
    job = job_of(asked)
    facts: dict[str, Any] = {"job": job, "wrong": wrong, "change": change, "profile": None}
    if job.job is None:
        return shown(asked, "today.html.j2", "today", status, **facts)
    found = [each for each in find_profiles() if not each.error and not each.hidden_by]
    facts |= {"controllers": [(each.name, each.speaks) for each in found], "controller": job.request.named_controller}
    try:
        resolved = resolve(job.request.named_controller, job.request.sets)
    except ProfileError as error:
        return shown(asked, "today.html.j2", "today", status, **{**facts, "wrong": wrong or error})
    profile = resolved.profile
    facts |= {"profile": profile, "rotary": None, "axis": _axis(job), **_touched(asked, job, profile)}
    if rotaries_of(profile, _axis(job)):
        letter, rotary = _rotary(profile, job)
        facts |= {"rotary": rotary, "letter": letter, **_mounting(resolved, letter, rotary, asked)}
    return shown(asked, "today.html.j2", "today", status, **facts)


def _part(job: JobFile) -> Toolpath | None:
    """The part, read anew only where one of its files has changed; None where it cannot be read, which its own step tells."""
    seen = []
    for file in files_of(job.path):
        with suppress(OSError):
            now = os.stat(file)
            seen.append((str(file), now.st_mtime_ns, now.st_size))
    with suppress(SteadyrestError):
        return _loaded(str(job.path), job.digest, tuple(seen))
    return None


@lru_cache(maxsize=2)
def _loaded(path: str, digest: str, seen: tuple[tuple[str, int, int], ...]) -> Toolpath:
    return load(Path(path))


def _axis(job: JobFile) -> str:
    """The axis of rotation: the part's; where it cannot be read, the job's."""
    part = _part(job)
    return part.axis if part is not None else job.job.axis if job.job is not None and job.job.axis else "X"


def _rotary(profile: Profile, job: JobFile) -> tuple[str, Rotary]:
    """The rotary that the job turns: the one along its axis. ProfileError where the machine has none."""
    along = rotaries_of(profile, _axis(job))
    if not along:
        raise ProfileError(f"{profile.name} has no rotary along {_axis(job)}, the axis of the part", cure="choose another machine")
    return the_rotary(profile, next(iter(along)))


def _mounting(resolved: ResolvedProfile, letter: str, rotary: Rotary, asked: Asked) -> dict[str, Any]:
    profile = resolved.profile
    stands = profile.spindle.stands
    faces, _ = face_question(rotary.along, stands)
    seen, watched = answers(rotary.along, stands)
    word = rotary.word_letter(letter)

    def drawn(chuck_faces: str, word_turns: str) -> list[Any]:
        """By the word that the display shows: a borrowed drive may count against the degrees."""
        return list(mounting_drawings(word, chuck_faces, sigma(chuck_faces, word_turns), stands))

    turns = rotary.positive_word_turns_chuck
    from_file = [resolved.origins[f"rotary.{letter}.{key}"] for key in ("chuck_faces", "positive_turns_chuck")]
    return {
        "faces": [(each, drawn(each, turns)[0]) for each in faces],
        "turning": [(each, rotary.turns_by_word(each), drawn(rotary.chuck_faces, each)[-1]) for each in TURNS],
        "turns": turns,
        "assumed": [origin != "--set" and not is_ours(Path(origin).parent) for origin in from_file],
        "seen": seen,
        "watched": watched,
        "stands": drawn(rotary.chuck_faces, turns),
        "word": word,
        "sense": "right-hand" if sigma(rotary.chuck_faces, turns) > 0 else "left-hand",
        "checked": asked.query_params.get("written", ""),
    }


def _keep(asked: Asked, form: FormData) -> Response:
    """What holds for this job, today: the machine, and how its rotary stands."""
    job = job_of(asked)
    if job.error is not None:
        raise job.error
    controller = said(form, "controller") or job.request.named_controller
    changes: dict[str, Any] = {}
    if controller != job.request.named_controller:
        resolve(controller, ())
        changes["post.controller"] = controller
        changes["post.set.rotary"] = None  # how the rotary of another machine stands holds for that one; all else that was said stays
    else:
        resolved = resolve(controller, ())
        profile = resolved.profile
        letter, rotary = _rotary(profile, job)
        faces, turns = said(form, "chuck_faces"), said(form, "turns")
        if faces not in face_question(rotary.along, profile.spindle.stands)[0] or turns not in TURNS:
            raise InputError("the mounting is not said", cure="choose a picture of each row")
        for key, value, stated in (
            ("chuck_faces", faces, rotary.chuck_faces),
            ("positive_turns_chuck", turns, rotary.positive_turns_chuck),
        ):
            # What the shop's own profile says needs no saying here, and follows it when that changes. What came with steadyrest or a
            # package says cannot know this table: there it is kept that somebody has said so.
            own = is_ours(Path(resolved.origins[f"rotary.{letter}.{key}"]).parent)
            changes[f"post.set.rotary.{letter}.{key}"] = value if value != stated or not own else None
    save_job(job.path, changed_text(job.text, changes), seen=said(form, "seen"))
    return back(asked, "today")


def _check(asked: Asked, form: FormData) -> Response:
    """Write the turn check beside the job."""
    job = job_of(asked)
    resolved = resolve(job.request.named_controller, job.request.sets)
    letter, _ = _rotary(resolved.profile, job)
    check = turn_check(resolved, letter)
    file = page_of(asked).folder.keep(f"turn-check-{letter.lower()}{resolved.profile.program.extension}", check.program, replace=True)
    return back(asked, "today", written=page_of(asked).folder.name(file))


def _seen(asked: Asked, form: FormData) -> Response:
    """What was seen becomes the two facts: shown first, and stored in a profile of the shop's own, or kept for this job alone."""
    job = job_of(asked)
    controller = job.request.named_controller
    profile = resolve(controller, ()).profile
    letter, rotary = _rotary(profile, job)
    facts = mounting(rotary.along, said(form, "chuck_faces") or rotary.chuck_faces, said(form, "seen"), profile.spindle.stands)
    if said(form, "keep") == "today":
        kept: dict[str, Any] = {f"post.set.rotary.{letter}.chuck_faces": facts.chuck_faces}
        kept[f"post.set.rotary.{letter}.positive_turns_chuck"] = facts.positive_turns_chuck
        save_job(job.path, changed_text(job.text, kept), seen=said(form, "digest"))
        return back(asked, "today")
    child = said(form, "child") or None
    try:
        change = planned_change(controller, letter, facts, seen=f"turn check, {date.today()}: {said(form, 'seen')}", child=child)
        check_own(page_of(asked), change.file)
    except (InputError, OutputError) as error:
        return _shown(asked, status=422, wrong=error)
    told = {name: said(form, name) for name in ("chuck_faces", "seen", "child", "digest")}
    if said(form, "keep") != "machine":
        return _shown(asked, change={"text": change.text(), "needed": change.needed, **told})
    check_unchanged(job.path, said(form, "digest"))  # before the profile is written, so that both are or neither is
    if change.needed:
        store(change)
    if change.controller != controller:
        keys = {"post.controller": change.controller, f"post.set.rotary.{letter}.chuck_faces": None}
        keys[f"post.set.rotary.{letter}.positive_turns_chuck"] = None
        save_job(job.path, changed_text(job.text, keys), seen=said(form, "digest"))
    return back(asked, "today")


def _touched(asked: Asked, job: JobFile, profile: Profile) -> dict[str, Any]:
    """The form of touches as the address has it, and what comes of it."""
    typed = {name: asked.query_params.get(name, "") for name in TOUCHED}
    along = _axis(job)
    typed["units"] = typed["units"] or usual().units or "mm"
    told: dict[str, Any] = {"typed": typed, "along": along, "across": "Y" if along == "X" else "X", "found": None, "touch_wrong": None}
    told["places"] = [(name, place_text(name, place)) for name, place in sorted(places().items())]
    if any(typed[name] for name in TOUCHED if name != "units"):
        try:
            found = find_centre(_touches(typed, job, along))
            work_offset = stated_by(job.request.named_controller, job.request.sets, along)[1]
            told["found"] = {
                **centre_data(found, typed["units"]),
                "text": centre_text(found, typed["units"], work_offset, mounted=_mounted_part(job, profile)),
                "repeat": found.repeat,
            }
        except InputError as error:
            told["touch_wrong"] = error
    return told


def _mounted_part(job: JobFile, profile: Profile) -> Toolpath | None:
    """The part as it stands on the machine: its centre is what the work offset has to allow for."""
    part = _part(job)
    return as_mounted(part, next(iter(rotaries_of(profile, part.axis).values()), None)) if part is not None else None


def _touches(typed: Mapping[str, str], job: JobFile, along: str) -> Touches:
    """Touches as they were typed, decimal point or comma. InputError with the field that is no number."""

    def number(name: str) -> float | None:
        return _length(typed[name], name) if typed[name] else None

    errors = uncertainties(typed["units"], number("touch-error"), None, None)
    given: dict[str, Any] = dict(zip(("uncertainty", "reading_uncertainty", "size_uncertainty"), errors, strict=True))
    for key in ("diameter", "tool"):
        if (value := number(key)) is not None:
            given[key] = value
    given["top"] = tuple(_length(each, "top") for each in typed["top"].split(";") if each.strip())
    one, other = number("side-one"), number("side-other")
    if one is not None and other is not None:
        given["sides"] = (("Y" if along == "X" else "X", one, other),)
    given["readings"] = tuple((float(angle), value) for angle in ANGLES if (value := number(f"reading-{angle}")) is not None)
    sense, _ = stated_by(job.request.named_controller, job.request.sets, along)
    return Touches(along=along, sense=sense, **given)


def _length(text: str, name: str) -> float:
    try:
        return length(text)
    except ValueError:
        raise InputError(
            f"{text!r} is not a length", place=Place(key=name.replace("-", " ")), cure="write a number such as 12.5 or 12,5"
        ) from None


def _remember(asked: Asked, form: FormData) -> Response:
    """Keep a place that was found under a name, or forget one."""
    job, name = job_of(asked), said(form, "place")
    if said(form, "do") == "forget":
        forget(name)
        return back(asked, "today")
    typed = {each: said(form, each) for each in TOUCHED}
    along = _axis(job)
    found = find_centre(_touches(typed, job, along))
    if found.repeat:
        raise InputError("the touches do not agree, and nothing is stored: " + "; ".join(found.repeat), cure="touch again what is named")
    words = {"note": said(form, "note"), "touched_with": "", "date": date.today().isoformat(), "machine": job.request.named_controller}
    remember(name, place_of(found, typed["units"], {}, **words), replace=said(form, "replace") == "yes")
    return back(asked, "today", **{key: value for key, value in typed.items() if value})


ROUTES = [
    Route("/today", _shown),
    Route("/today", in_thread(_keep), methods=["POST"]),
    Route("/today/check", in_thread(_check), methods=["POST"]),
    Route("/today/seen", in_thread(_seen), methods=["POST"]),
    Route("/today/place", in_thread(_remember), methods=["POST"]),
]
