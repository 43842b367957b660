"""The step How it stands today: the machine, where its rotaries stand and how they turn, the stock in the chuck, the axes of rotation.

What holds today only is kept in the job; what the machine is, in a profile of the shop's own. A mounting that only a profile assumes which
never saw this table is not shown as known: it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import date
from functools import partial
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from steadyrest.centre import COVERAGE, line_setting
from steadyrest.conventions import AXES
from steadyrest.errors import InputError, Place, SteadyrestError
from steadyrest.page import axis, gauge_lengths
from steadyrest.page.app import back, check_own, in_thread, job_of, page_of, said, shown, typed_in, wants_json
from steadyrest.page.fields import Wrongs, read, wrongs_of
from steadyrest.page.job_file import changed_text, check_unchanged, save_job
from steadyrest.page.made import made_before
from steadyrest.page.standing import Mounted, Standing, machines, standing, usual_machine
from steadyrest.profile import chain_in_words, resolve
from steadyrest.profile_tools import Change, planned_change, said_by, store
from steadyrest.proof import setting_of
from steadyrest.sheet import (
    chain_drawings,
    chuck_drawing,
    holding,
    mounting_drawings,
    mounting_facts,
    moving_drawing,
    origin_lines,
    standing_drawing,
    standing_words,
    stock_lines,
)
from steadyrest.toml_text import toml_value
from steadyrest.toolpath import Held, RectangularStock, RoundStock, Toolpath
from steadyrest.turn_check import TurnCheck, face_question, mounting, settings_seen, turn_check, watched, ways
from steadyrest.turn_check import planned_change as turn_check_change

TURNS = ("clockwise", "counterclockwise")
UNKNOWN = "not-known"
FOUND_BY = "Where the axis of rotation is, below"
"""What is answered where nobody knows yet which way it turns, or which way the chuck faces."""


def _shown(
    asked: Asked,
    *,
    status: int = 200,
    wrong: Exception | None = None,
    change: Any = None,
    form: str = "",
    typed: FormData | None = None,
    wrongs: Wrongs | None = None,
) -> Response:
    """`typed`: what was typed into one of the page's forms, `touches` or `lengths`, and is not kept; `wrongs`: what is wrong of it."""
    job = job_of(asked)
    facts: dict[str, Any] = {"job": job, "wrong": wrong, "change": change, "now": None, "profile": None}
    if job.job is None:
        return shown(asked, "today.html.j2", "today", status, **facts)
    now = standing(job)
    facts |= {"now": now, "machines": machines(page_of(asked).folder, job), "usual_machine": usual_machine(), "rotary": None}
    facts["profile"] = now.resolved.profile if now.resolved is not None else None
    facts |= {"held": _held(now), "setting": now.setting, "stick_out": _stick_out(asked, now)}
    facts |= axis.facts(now, typed_in(typed) if form == "touches" else None)
    facts |= {"lengths": list(gauge_lengths.entries(now, typed_in(typed) if form == "lengths" else None, wrongs or {}))}
    facts["lacking"] = gauge_lengths.lacking(now)
    facts["checks"] = [_check_shown(asked, now, each) for each in now.rotaries]
    facts["chain"] = chain_drawings(now.profile) if now.on_chain and all(each.known for each in now.rotaries) else ()
    if now.mounted is not None:
        facts |= {"rotary": now.mounted.rotary, **_pictures(now.mounted)}
    return shown(asked, "today.html.j2", "today", status, **facts)


def _pictures(here: Mounted) -> dict[str, Any]:
    """How the rotary stands in words and pictures, as far as somebody has said so, and the pictures of what it may be."""
    along, stands, rotary = here.rotary.along, here.stands, here.rotary
    faces, _ = face_question(along, stands)
    faces_known = here.faces_by != "assumed"
    return {
        "here": here,
        "sentences": mounting_facts(here.letter, rotary, stands, "mm").sentences[:3],
        "drawings": mounting_drawings(here.word, rotary.chuck_faces, here.word_sense, stands) if faces_known else (),
        "faces": [(each, standing_words(each, stands), standing_drawing(each, stands)) for each in faces],
        "turning": [(each, rotary.turns_by_word(each), chuck_drawing(here.word, rotary.turns_by_word(each))) for each in TURNS],
        "not_known": chuck_drawing(here.word, None),
    }


def _check_shown(asked: Asked, now: Standing, here: Mounted) -> dict[str, Any]:
    """The turn check of a rotary: where it lies, what it does, or why none can be written; what to watch, and the answers."""
    stands, look = here.stands, watched(now.profile, here.letter)
    faces = () if now.on_chain else face_question(here.rotary.along, stands)[0]
    said_so = dict(zip([each[:1] for each in chain_in_words(now.profile)], chain_in_words(now.profile), strict=True))
    told: dict[str, Any] = {
        "here": here,
        "watched": look.what,
        "file": "",
        "does": (),
        "wrong": "",
        "sentence": said_so.get(here.letter, ""),
    }
    line = here.rotary.pivot or here.rotary.point or (0.0, 0.0, 0.0)
    whence = "the gauge point" if here.in_head else "the reference point, `centre` of the toolpath"
    told["place"] = f"{' '.join(f'{axis} {value:g}' for axis, value in zip(AXES, line, strict=True))} mm from {whence.replace('`', '')}"
    told["seen"] = [(each, way, [(face, moving_drawing(face, way, stands)) for face in faces])
                    for each, way in ways(stands).items() if each in look.seen]  # fmt: skip
    try:
        check, name = _turn_check(now, here)
        file = page_of(asked).folder.path / name
        if file.is_file() and file.read_bytes() == check.program:
            told |= {"file": file.name}
        told["does"] = check.does[1:]
    except SteadyrestError as error:
        told["wrong"] = str(error)
    return told


def _turn_check(now: Standing, here: Mounted) -> tuple[TurnCheck, str]:
    """The turn check of a rotary, and the name of its file."""
    assert now.resolved is not None
    return turn_check(now.resolved, here.letter), f"turn-check-{here.letter.lower()}{now.profile.program.extension}"


def _machine(asked: Asked, form: FormData) -> Response:
    """Another machine for this job."""
    job, name = job_of(asked), said(form, "controller")
    now = standing(job)
    if name == now.named or (not now.named and name == now.machine):
        return back(asked, "today")
    if name not in {each.name for each in machines(page_of(asked).folder, job)} | {usual_machine()} or not name:
        raise InputError(f"there is no machine {name!r}", cure="choose one of the list")
    resolve(str(job.path.parent / name) if name.startswith(".") else name, ())
    # How the rotary of another machine stands holds for that one; all else that was said stays.
    save_job(job.path, changed_text(job.text, {"post.controller": name, "post.set.rotary": None}), seen=said(form, "seen"))
    return back(asked, "today")


def _mount(asked: Asked, form: FormData) -> Response:
    """How the rotary stands, for this job."""
    job = job_of(asked)
    now = standing(job)
    here = now.rotary()
    # What the profile itself says, without what the job sets.
    plain = resolve(job.request.named_controller, ())
    allowed, _ = face_question(here.rotary.along, here.stands)
    changes: dict[str, Any] = {}
    for field, key, values in (("chuck_faces", "chuck_faces", allowed), ("turns", "positive_turns_chuck", TURNS)):
        value, name = said(form, field), f"rotary.{here.letter}.{key}"
        if value not in (*values, UNKNOWN):
            raise InputError("the mounting is not said", cure="choose a picture of each row; which way it turns may be not known yet")
        stated = getattr(plain.profile.rotary[here.letter], key)  # type: ignore[index]
        # What the shop's own profile says needs no saying here, and follows it when that changes. What came with steadyrest or a package
        # says cannot know this table: there it is kept that somebody has said so.
        own = said_by(plain, name) == "shop"
        changes[f"post.set.{name}"] = None if value == UNKNOWN or (own and value == stated) else value
    save_job(job.path, changed_text(job.text, changes), seen=said(form, "seen"))
    return back(asked, "today")


def _check(asked: Asked, form: FormData) -> Response:
    """Write the turn check of a rotary beside the job."""
    now = standing(job_of(asked))
    here = now.rotary(said(form, "letter"))
    check, name = _turn_check(now, here)
    page_of(asked).folder.keep(name, check.program, replace=True)
    return back(asked, "today", section=f"check-{here.letter}")


def _seen(asked: Asked, form: FormData) -> Response:
    """What was seen becomes the two facts of a rotary, and of one that carries another the order of the chain."""
    now = standing(job_of(asked))
    here, profile = now.rotary(said(form, "letter")), now.profile
    facts = mounting(profile, here.letter, said(form, "seen"), None if now.on_chain else said(form, "chuck_faces"))
    if here.carries and said(form, "went_along") not in ("yes", "no"):
        raise InputError(f"it is not said whether {here.carries} went along with {here.letter}", cure="choose yes or no")
    along = said(form, "went_along") == "yes" if here.carries else None
    why = f"turn check, {date.today()}: {said(form, 'seen')}"
    values = settings_seen(profile, here.letter, facts, along)
    if values.get("chain") == profile.chain:
        del values["chain"]  # as it is: nothing to keep
    plan = partial(turn_check_change, letter=here.letter, said=facts, seen=why, went_along=along)
    return _kept_fact(asked, form, values, plan, f"check-{here.letter}")


def _line(asked: Asked, form: FormData) -> Response:
    """The line of a rotary that was found from a ball becomes its point or pivot."""
    now = standing(job_of(asked))
    found = axis.line_of(now, axis.of_letter(now, said(form, "letter")))
    if found.repeat:
        raise InputError("the places do not agree, and nothing is stored: " + "; ".join(found.repeat), cure="find again what is named")
    units = now.job.job.setup.lines[found.letter].units if now.job.job is not None else "mm"  # type: ignore[index]
    key, value = line_setting(found, units)
    why = f"ball at {found.fit.count // 2} angles, {date.today()}, within {COVERAGE * max(found.uncertainty):.4f} {units}"
    return _kept_fact(asked, form, {key: value}, partial(planned_change, values={key: value}, sources={key: why}), f"line-{found.letter}")


def _kept_fact(asked: Asked, form: FormData, values: Mapping[str, Any], plan: Callable[..., Change], section: str) -> Response:
    """Keep facts of the machine for this job alone, or store them in a profile of the shop's own, which is shown first.

    values   settings of the profile by their dotted keys
    plan     gives the change of a profile: `plan(controller, child=NAME or None)`
    """
    job, controller = job_of(asked), job_of(asked).request.named_controller
    names = [f"post.set.{key}" for key in values]
    if said(form, "keep") == "today":
        resolve(controller, [*job.request.sets, *(f"{key}={toml_value(value)}" for key, value in values.items())])  # a chain may be none
        save_job(job.path, changed_text(job.text, dict(zip(names, values.values(), strict=True))), seen=said(form, "digest"))
        return back(asked, "today")
    change = plan(controller, child=said(form, "child") or None)
    check_own(page_of(asked), change.file)
    if said(form, "keep") != "machine":
        return _shown(
            asked, change={"text": change.text(), "needed": change.needed, "section": section, **{name: said(form, name) for name in form}}
        )
    check_unchanged(job.path, said(form, "digest"))  # before the profile is written, so that both are or neither is
    if change.needed:
        store(change)
    named: dict[str, Any] = {"post.controller": change.controller} if change.controller != controller else {}
    save_job(job.path, changed_text(job.text, {**named, **dict.fromkeys(names)}), seen=said(form, "digest"))
    return back(asked, "today")


def _held(now: Standing, typed: dict[str, str] | None = None) -> dict[str, Any]:
    """The stock in the chuck, as it stands on the machine, in words and drawn; with `typed`, as if that were said.

    open    whether it can be said here: where the job says the stock itself
    """
    job, part = now.job.job, now.toolpath
    ours = job is not None and job.stock is not None
    told: dict[str, Any] = {"open": ours, "lines": (), "svg": "", "ends": (), "at": "", "length": "", "wrong": "", "units": ""}
    if part is None or part.stock is None:
        return told
    held = part.stock.held
    told |= {"units": part.units, "at": held.at if held is not None else ""}
    told["length"] = f"{held.length:g}" if held is not None and held.length is not None else ""
    if typed is not None:
        told |= {"at": typed["at"], "length": typed["length"]}
        values = read(Held, "", typed)
        wrongs = _held_wrongs(part.stock, values)
        if wrongs:
            return {**told, "wrong": "; ".join(f"{wrong}: {cure}" for wrong, cure in wrongs.values())}
        stock = part.stock.model_copy(update={"held": Held.model_validate(values) if values else None})
        part = part.model_copy(update={"stock": stock})
    own = [("from", "+"), ("to", "-")]
    assert part.stock is not None
    told["ends"] = [(at, f"{part.axis} {value:g}", holding(_with_held(part, at), sign + part.axis).svg)
                    for (at, sign), value in zip(own, part.stock.along(part.axis), strict=True)]  # fmt: skip
    try:
        setting = setting_of(part, now.profile, None, now.job.request.tolerance, now.job.request.gauge_lengths)
    except SteadyrestError as error:
        return {**told, "wrong": str(error)}
    if setting.rotary is not None:
        told |= {
            "lines": (*stock_lines(setting), *origin_lines(setting, found_by=FOUND_BY)),
            "svg": holding(setting.mounted, setting.rotary.chuck_faces).svg,
        }
    return told


def _stick_out(asked: Asked, now: Standing) -> str:
    """How far the stock has to stand out of the jaws, as the setup sheet says it; empty as long as no program was made of the job."""
    with suppress(SteadyrestError):
        before = made_before(page_of(asked), now.job)
        return str(before.facts.get("stick_out", "")) if before is not None else ""
    return ""


def _with_held(part: Toolpath, at: str) -> Toolpath:
    """The part held at that end, with as much in the jaws as it says."""
    assert part.stock is not None
    length = part.stock.held.length if part.stock.held is not None else None
    held = Held.model_validate({"at": at, "length": length})
    return part.model_copy(update={"stock": part.stock.model_copy(update={"held": held})})


def _held_wrongs(stock: RoundStock | RectangularStock, values: dict[str, Any]) -> dict[str, tuple[str, str]]:
    whole = {**stock.model_dump(by_alias=True, exclude_none=True, exclude={"held"}), **({"held": values} if values else {})}
    return wrongs_of(type(stock), "stock.", whole)


def _typed_held(form: Any) -> dict[str, str]:
    return {name: str(form.get(name, "")).strip()[: axis.MOST] for name in ("at", "length")}


def _drawn(asked: Asked) -> Response:
    """The stock in the chuck as it is being typed, drawn; nothing is kept."""
    told = _held(standing(job_of(asked)), _typed_held(asked.query_params))
    return JSONResponse({key: told[key] for key in ("svg", "lines", "wrong", "ends")})


def _hold(asked: Asked, form: FormData) -> Response:
    """Which end of the stock is in the jaws, and how much of it: kept in the job that says the stock."""
    job = job_of(asked)
    now = standing(job)
    if now.job.job is None or now.job.job.stock is None:
        raise InputError("the job does not say the stock", cure="say the stock in the step Part, with its held end")
    values = read(Held, "", _typed_held(form))
    for wrong, cure in _held_wrongs(now.job.job.stock, values).values():
        raise InputError(wrong, place=Place(file=job.path.name, key="stock, held"), cure=cure)
    changes = {f"stock.held.{key}": values.get(key) for key in ("at", "length")} if values else {"stock.held": None}
    save_job(job.path, changed_text(job.text, changes), seen=said(form, "seen"))
    return back(asked, "today", section="held")


def _lengths(asked: Asked, form: FormData) -> Response:
    """Keep the gauge lengths; where one of them may not be, nothing is kept, and it is told at its field."""
    job = job_of(asked)
    keys, wrongs = gauge_lengths.said_so(standing(job), typed_in(form))
    if wrongs:
        return _shown(asked, status=422, form="lengths", typed=form, wrongs=wrongs)
    save_job(job.path, changed_text(job.text, keys), seen=said(form, "seen"))
    return back(asked, "today", section="lengths")


def _touches(asked: Asked, form: FormData) -> Response:
    """Keep the touches, and say what comes of them."""
    told, letter = axis.keep(asked, form), said(form, "letter")
    return JSONResponse(told) if wants_json(asked) else back(asked, "today", section=f"line-{letter}" if letter else "axis")


ROUTES = [
    Route("/today", _shown),
    Route("/today", in_thread(_mount, _shown), methods=["POST"]),
    Route("/today/machine", in_thread(_machine, _shown), methods=["POST"]),
    Route("/today/check", in_thread(_check, _shown), methods=["POST"]),
    Route("/today/seen", in_thread(_seen, _shown), methods=["POST"]),
    Route("/today/held", in_thread(_hold, _shown), methods=["POST"]),
    Route("/today/lengths", in_thread(_lengths, partial(_shown, form="lengths")), methods=["POST"]),
    Route("/today/drawn", _drawn),
    Route("/today/line", in_thread(_line, _shown), methods=["POST"]),
    Route("/today/touches", in_thread(_touches, partial(_shown, form="touches")), methods=["POST"]),
    Route("/today/remember", in_thread(axis.remember_it, _shown), methods=["POST"]),
    Route("/today/place", in_thread(axis.use_place, _shown), methods=["POST"]),
    Route("/today/usual", in_thread(axis.say_usual, _shown), methods=["POST"]),
]
