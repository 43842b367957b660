"""Where the axes of rotation are: touches kept in the job and worked out by what `steadyrest centre` uses, remembered places, the usual."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import BaseModel
from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import Response

from steadyrest.centre import (
    COVERAGE,
    Centre,
    FoundLine,
    RotaryPlace,
    WorkOffset,
    balls_kept,
    centre_text,
    find_centre,
    find_line,
    forget,
    line_text,
    mounted_part,
    place_of,
    place_text,
    places,
    recalled,
    recalled_text,
    remember,
    say_once,
    touches_kept,
    usual,
    work_offsets,
)
from steadyrest.conventions import AXES, HOW_TO_TYPE, length
from steadyrest.errors import InputError, Place, SteadyrestError
from steadyrest.inputs import BallTouched, Setup, Touched
from steadyrest.page.app import back, job_of, said, typed_in
from steadyrest.page.job_file import changed_text, save_job
from steadyrest.page.standing import Mounted, Standing, standing
from steadyrest.page.touches import ACROSS, Step, ball_steps, entered, steps, touched
from steadyrest.toolpath import Toolpath

MOST = 60
"""Characters of a number in the address or in a form."""


@dataclass(frozen=True, slots=True)
class Found:
    """What is found from touches: the axis of rotation of the part, or with a `letter` the line of that rotary of a chain.

    model, steps   of the touches, as a job keeps them and as they are typed
    along          the axis to which it is parallel
    key            under which it keeps them
    kept           those that it keeps; None where there are none
    """

    letter: str
    model: type[BaseModel]
    steps: tuple[Step, ...]
    along: str
    key: str
    kept: BaseModel | None

    @property
    def fits(self) -> bool:
        """Whether the form can hold all that is kept: a job file written by hand may have more."""
        try:
            return self.kept is None or touched(self.model, entered(self.kept, self.steps), self.steps) == self.kept
        except InputError:
            return False


def _setup(now: Standing) -> Setup:
    assert now.job.job is not None
    return now.job.job.setup


def to_find(now: Standing) -> list[Found]:
    """What can be found: the lines of a chain, and the axis of rotation of the part."""
    found: list[Found] = []
    lines: dict[Any, BallTouched] = _setup(now).lines
    for each in now.rotaries if now.on_chain else ():
        upright = each.rotary.along == "Z" and each.rotary.leans is None
        of = ball_steps(each.letter, in_head=each.in_head, upright=upright)
        found.append(Found(each.letter, BallTouched, of, each.rotary.along, f"setup.lines.{each.letter}", lines.get(each.letter)))
    return [*found, Found("", Touched, steps(now.axis), now.axis, "setup.touches", _setup(now).touches)]


def facts(now: Standing, typed: dict[str, str] | None = None) -> dict[str, Any]:
    """What the page shows of it. `typed`: what was typed into one of the forms, with its `letter`, and is not kept."""
    told, words = [], _usual_words()
    units = words["units"] or (now.toolpath.units if now.toolpath is not None else "mm")
    for each in to_find(now):
        filled = entered(each.kept, each.steps)
        here = typed is not None and typed.get("letter", "") == each.letter
        told.append(
            {
                "letter": each.letter,
                "in_head": bool(each.letter) and now.rotary(each.letter).in_head,
                "across": (each.along, *ACROSS[each.along]),
                "steps": [(step, any(filled.get(one.name) for row in step.entries for one in row)) for step in each.steps],
                "typed": typed if here else {"units": units, **filled},
                "fits": each.fits,
                "found": found_of(now, each),
            }
        )
    return {"touched": told, "places": _places(now), "usual": words}


def _usual_words() -> dict[str, str]:
    try:
        known = usual()
    except InputError as error:
        return {"units": "", "machine": "", "wrong": str(error)}
    return {"units": known.units, "machine": known.machine, "wrong": ""}


def _mounted(now: Standing) -> Toolpath | None:
    """The part as it stands on the machine: its centre is what the work offset has to allow for."""
    request = now.job.request
    return mounted_part(now.toolpath, request.named_controller, request.sets) if now.toolpath is not None else None


def found_of(now: Standing, of: Found) -> dict[str, Any] | None:
    """What comes of the touches of the job: `rows` to enter, `text` as the command prints it, `bad` where it must not be used, and `doubt`
    for what only an assumption says. None where nothing was touched.
    """
    if of.kept is None or of.kept.model_dump(exclude={"units"}, exclude_defaults=True) == {}:
        return None
    units = getattr(of.kept, "units", "")
    text, offsets, doubt = "", list[WorkOffset](), ""
    try:
        found: Centre | FoundLine
        if of.letter:
            doubt = _line_doubt(now.rotary(of.letter))
            found = line_of(now, of)
            text = line_text(found, units)
            offsets = [WorkOffset(*each) for each in zip(AXES, found.place, found.uncertainty, strict=True)]
        else:
            doubt = _doubt(now)
            found = _centre(now)
            text = centre_text(found, units)
            mounted = _mounted(now)
            text = centre_text(found, units, now.profile.codes.work_offset, mounted)
            coordinates = {each.axis: (each.value, each.uncertainty) for each in found.coordinates}
            offsets = list(work_offsets(coordinates, units, mounted, found.bar_end)) if mounted is not None else []
    except SteadyrestError as error:  # the touches do not do, or the machine's profile cannot be read, or holds no rotary
        return {"rows": [], "text": f"{text}\n{error}".strip(), "bad": True, "doubt": doubt}
    rows = [
        {
            "axis": one.axis,
            "value": f"{round(one.value, 4) + 0.0:.4f}",
            "within": f"{COVERAGE * one.uncertainty:.4f}",
            "units": units,
            "how": one.how,
        }
        for one in offsets
    ]
    return {"rows": [] if found.repeat else rows, "text": text, "bad": bool(found.repeat), "doubt": doubt}


def line_of(now: Standing, of: Found) -> FoundLine:
    """The line of a rotary of the chain, from what is kept. InputError as of `find_line`, and where nothing is."""
    if not isinstance(of.kept, BallTouched):
        raise InputError(f"no ball was found with {of.letter} turned", cure="fill in where it was found, first")
    return find_line(now.profile, of.letter, balls_kept(of.kept))


def _centre(now: Standing) -> Centre:
    kept = _setup(now).touches
    if kept is None:
        raise InputError("nothing was touched", cure="fill in what was touched, first")
    return find_centre(touches_kept(kept, now.axis, now.mounted.sense if now.mounted is not None else None))


def _line_doubt(here: Mounted) -> str:
    if here.known:
        return ""
    return f"Which way {here.letter} turns is assumed, not seen: run its turn check first. Places that fit a turn the other way are told."


def _doubt(now: Standing) -> str:
    """What of it rests on a mounting that nobody has seen; empty where nothing does."""
    kept, here = _setup(now).touches, now.mounted
    if here is None or here.known:
        return ""
    if kept is not None and (kept.readings or kept.flat):
        return (
            f"Which way the rotary stands and turns is assumed, not seen: so neither runout to the side nor the angle of a flat is worked "
            f"out. Say above how it stands, or write the turn check; readings at 0 and 180 alone need neither. The work offset takes the "
            f"chuck to face {here.rotary.chuck_faces}."
        )
    return f"Assumed, not seen: the work offset takes the chuck to face {here.rotary.chuck_faces}. Say above how it stands."


def _places(now: Standing) -> list[dict[str, Any]]:
    """The remembered places; of the one that the job uses what it gives today."""
    setup = _setup(now)
    blank: dict[str, Any] = {"fits": False, "used": False, "today": None, "wrong": False, "reference": {}, "units": "", "kept": False}
    try:
        known = places()
    except InputError as error:
        return [{**blank, "name": "", "text": str(error)}]
    listed = []
    for name, place in sorted(known.items()):
        told = {**blank, "name": name, "text": place_text(name, place), "fits": place.along == now.axis, "used": name == setup.place}
        if name == setup.place:
            told["today"], told["wrong"] = _today(now, name, place)
        today = dict(setup.reference) if name == setup.place else {}
        told["reference"] = {
            axis: (f"{was:g}", f"{today[axis]:.10g}" if axis in today else "") for axis, was in (place.reference or {}).items()
        }
        listed.append({**told, "units": place.units, "kept": place.reference is not None})
    if setup.place and setup.place not in known:
        gone = f"{setup.place}, which this job uses, is not remembered any more"
        listed.append({**blank, "name": setup.place, "text": gone, "used": True})
    return listed


def _today(now: Standing, name: str, place: RotaryPlace) -> tuple[str, bool]:
    """What a remembered place gives for this job today, as the command prints it; whether it is wrong."""
    try:
        found = recalled(name, dict(_setup(now).reference), machine=now.job.request.named_controller)
        return recalled_text(name, place, found, _mounted(now)), False
    except SteadyrestError as error:
        return str(error), True


def keep(asked: Asked, form: FormData) -> dict[str, Any]:
    """Keep touches in the job, and say what comes of them, with the digest of the file. InputError for a wrong entry: nothing is kept."""
    job, letter = job_of(asked), said(form, "letter")
    of = of_letter(standing(job), letter)
    if not of.fits:
        wrong = "the job file holds more touches than this form can show"
        raise InputError(wrong, place=Place(file=job.path.name, key=of.key.replace(".", ", ")), cure="change them in the file")
    kept = touched(of.model, typed_in(form), of.steps)
    value = kept.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    save_job(job.path, changed_text(job.text, {of.key: value if len(value) > 1 else None}), seen=said(form, "seen"))
    now = standing(job_of(asked))
    return {"digest": now.job.digest, "found": found_of(now, of_letter(now, letter))}


def of_letter(now: Standing, letter: str) -> Found:
    """What is found with that letter. InputError where the machine has no such line."""
    found = next((each for each in to_find(now) if each.letter == letter), None)
    if found is None:
        raise InputError(f"there is no line of {letter} to find on this machine", cure="reload the page")
    return found


def remember_it(asked: Asked, form: FormData) -> Response:
    """Keep what was found under a name, as the way from a reference that was touched as well, if one was."""
    now = standing(job_of(asked))
    found, kept = _centre(now), _setup(now).touches
    assert kept is not None
    if found.repeat:
        raise InputError("the touches do not agree, and nothing is stored: " + "; ".join(found.repeat), cure="touch again what is named")
    if not found.coordinates:
        raise InputError("no coordinate was found, so there is no place to remember", cure="touch the bar or a feature first")
    reference = _lengths(form, [each.axis for each in found.coordinates])
    words = {"note": said(form, "note"), "touched_with": said(form, "touched-with"), "date": date.today().isoformat()}
    place = place_of(found, kept.units, reference, **words, machine=now.job.request.named_controller)
    remember(said(form, "place"), place, replace=said(form, "replace") == "yes")
    return back(asked, "today", section="places")


def use_place(asked: Asked, form: FormData) -> Response:
    """Use a remembered place for this job, with where its reference is today; use it no longer; or forget it."""
    job, name, does = job_of(asked), said(form, "place"), said(form, "do")
    if does == "forget":
        forget(name)
        return back(asked, "today", section="places")
    if does == "leave":
        save_job(job.path, changed_text(job.text, {"setup.place": None, "setup.reference": None}), seen=said(form, "seen"))
        return back(asked, "today", section="places")
    now, known = standing(job), places()
    if name not in known:
        raise InputError(f"no place is remembered as {name!r}", cure="choose one of the list")
    if known[name].along != now.axis:
        wrong = f"{name} is along {known[name].along}, and the axis of the part is along {now.axis}"
        raise InputError(wrong, cure="choose a place of a rotary along that axis")
    reference = _lengths(form, list(known[name].reference or {}))
    recalled(name, reference, machine=job.request.named_controller)  # what is missing, or not of this machine, is told before it is kept
    keys: dict[str, Any] = {"setup.place": name, "setup.reference": [list(each) for each in reference.items()] or None}
    save_job(job.path, changed_text(job.text, keys), seen=said(form, "seen"))
    return back(asked, "today", section="places")


def _lengths(form: FormData, axes: list[str]) -> dict[str, float]:
    """Where a reference is, by axis, as far as it was filled in. InputError for what is no length."""
    found = {}
    for axis in axes:
        text = said(form, f"reference-{axis}")
        try:
            if text:
                found[axis] = length(text)
        except ValueError:
            place = Place(key=f"reference in {axis}")
            raise InputError(f"{text[:MOST]!r} is not a length", place=place, cure=HOW_TO_TYPE) from None
    return found


def say_usual(asked: Asked, form: FormData) -> Response:
    """Keep the units and the machine that are usual in this shop, once for every job and for the command line."""
    now = standing(job_of(asked))
    units = said(form, "units")
    if units not in ("mm", "inch"):
        raise InputError("the usual units are not chosen", cure="choose mm or inch")
    say_once(units, now.job.request.named_controller if said(form, "machine") == "this" else None)
    return back(asked, "today", section="places")
