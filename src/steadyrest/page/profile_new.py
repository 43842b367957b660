"""A new profile: the questions to ask at the machine as a form, and what a program that runs there shows of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request as Asked
from starlette.responses import Response
from starlette.routing import Route

from steadyrest.errors import InputError, OutputError, ProfileError
from steadyrest.page.app import Page, back, in_thread, job_of, page_of, said, shown
from steadyrest.page.folder import file_digest
from steadyrest.page.job_file import JobFile, changed_text, check_unchanged, save_job
from steadyrest.page.profile import beside, machines
from steadyrest.page.profile_tried import digest_of, key_from
from steadyrest.page.settings_form import Field, chapters, fields_of, set_text
from steadyrest.page.tasks import Task
from steadyrest.profile import ResolvedProfile, resolve
from steadyrest.profile_tools import (
    Absent,
    Created,
    answered,
    create,
    named_settings,
    questionnaire,
    value_of,
    with_values,
)
from steadyrest.profile_tools import (
    said as value_said,
)
from steadyrest.progress import Progress
from steadyrest.toml_text import toml_value

Typed = Mapping[str, Any]
NAMELESS = "read-off"
"""What the profile is called while an example is read for which nobody has given a name."""


@dataclass(frozen=True, slots=True)
class Question:
    """One question of the questionnaire as part of the form.

    id        of its controls
    chapter   where it is asked
    answers   what may be seen, each with the settings that it leads to, as words and as values
    fields    settings that are filled in: all but choices between which the answers choose
    chosen    number of the answer that was ticked; empty: none
    source    where it was seen
    """

    id: str
    chapter: str
    look: str
    answers: tuple[tuple[str, str, Mapping[str, Any]], ...]
    fields: tuple[Field, ...]
    now: str
    chosen: str = ""
    source: str = ""


def questions(parent: ResolvedProfile, typed: Typed) -> list[Question]:
    """The questionnaire for a child of this profile, with what was typed; `Now` is what holds without an answer."""
    fields, found = {each.key: each for each in fields_of(chapters(parent, None, {}, {}))}, []
    for number, (chapter, question) in enumerate(questionnaire(parent.profile)):
        answers = tuple((words, settings, answered(settings)) for words, settings in question["answers"])
        known = {(key, field_value(value)) for _, _, values in answers for key, value in values.items()}
        named = [fields[key] for key in named_settings(question) if key in fields]
        left = [each for each in named if each.kind != "choice" or sum(key == each.key for key, _ in known) < 2]
        held = ", ".join(f"{each.key} = {each.held or 'nothing'}".replace("\n", " ") for each in named)
        typed_in = tuple(replace(each, value=_typed(typed, f"f.{each.key}", each.held), falls_to="", own=False) for each in left)
        chosen, source = str(typed.get(f"a.{number}", "")), str(typed.get(f"s.{number}", ""))
        found.append(Question(str(number), chapter, question["look"], answers, typed_in, held, chosen, source))
    return found


def _typed(typed: Typed, name: str, held: str) -> str:
    return str(typed.get(name, held)).replace("\r\n", "\n").strip("\n")


def field_value(value: Any) -> str:
    """A value as a choice of a field holds it."""
    return value if isinstance(value, str) else toml_value(value)


def answers_given(asked: list[Question]) -> tuple[list[str], dict[str, str]]:
    """What was answered, as KEY=VALUE, and where each was seen; what was typed into a field counts before the answer above it."""
    sets, sources = dict[str, str](), dict[str, str]()
    for question in asked:
        given = {each.key: set_text(each, each.value) for each in question.fields if each.value != each.held}
        if question.chosen.isdigit() and int(question.chosen) < len(question.answers):
            values = question.answers[int(question.chosen)][2]
            given = {key: f"{key}={toml_value(value)}" for key, value in values.items()} | given
        sets |= given
        sources |= {key: question.source.strip() for key in given if question.source.strip()}
    return list(sets.values()), sources


def _shown(
    asked: Asked, *, status: int = 200, wrong: Exception | None = None, typed: FormData | None = None, planned: Created | None = None
) -> Response:
    page, job, query = page_of(asked), job_of(asked), asked.query_params
    facts: dict[str, Any] = {"job": job, "tab": "new", "wrong": wrong, "planned": planned, "questions": [], "typed": typed or query}
    if job.job is None:
        return shown(asked, "profile_new.html.j2", "profile", status, **facts)
    parents = machines(page, job)
    parent = query.get("from", "") or next((name for name, _, now in parents if now), "")
    facts |= {"parents": parents, "parent": parent, "example": query.get("example", ""), "task": None, "shows": None}
    try:
        held = resolve(_place(page, job, parent))
        if facts["example"]:
            facts["task"], facts["state"] = _example_task(page, job, parent, held, facts["example"])
            if facts["state"]["status"] == "done":
                facts["shows"] = shows = facts["state"]["result"]
                stated = {each["key"]: _tuple(each["value"]) for each in shows["stated"]}
                held = replace(held, profile=with_values(held.profile, stated))
        facts["questions"] = questions(held, facts["typed"])
    except (InputError, OutputError) as error:
        facts["wrong"] = wrong or error
    return shown(asked, "profile_new.html.j2", "profile", status, **facts)


def _place(page: Page, job: JobFile, parent: str) -> str:
    """The profile to extend, by name or absolute path. InputError for one that cannot be chosen."""
    if parent not in [name for name, _, _ in machines(page, job)]:
        raise InputError(f"there is no profile {parent!r} to extend", cure="choose one of the list")
    return str(job.path.parent / parent) if parent.startswith(".") else parent


def _tuple(value: Any) -> Any:
    return tuple(map(_tuple, value)) if isinstance(value, list) else value


def _example_task(page: Page, job: JobFile, parent: str, held: ResolvedProfile, example: str, *, again: bool = False) -> Task:
    file = page.folder.file(example)
    key = key_from("example", parent, digest_of(held), str(file), file_digest(file))
    return page.tasks.begun(key, read_off, {"parent": _place(page, job, parent), "example": str(file)}, again=again)


def read_off(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """The work of a task: what an example shows, how sure that is, and what it does not show."""
    parent = resolve(asked["parent"]).profile
    example = Path(asked["example"])
    found = create(NAMELESS, asked["parent"], inside / "controllers", example=example, progress=progress, make=False)
    assert found.proposal is not None

    def row(claim: Any, reason: str = "") -> dict[str, Any]:
        inherited = value_of(parent, claim.key)
        held = "" if isinstance(inherited, Absent) else value_said(inherited)
        return {**asdict(claim), "said": value_said(claim.value), "parent": held, "reason": reason}

    return {
        "stated": [row(claim) for claim in found.stated],
        "asked": [row(claim, reason) for claim, reason in found.asked],
        "same": [row(claim) for claim in found.same],
        "unknown": list(found.proposal.unknown),
    }


def _example(asked: Asked, form: FormData) -> Response:
    """Keep a program that runs on the machine, and show what it shows. What was dropped is read and never run."""
    page, dropped = page_of(asked), form.get("example")
    if not isinstance(dropped, UploadFile) or not dropped.filename:
        raise InputError("no program is chosen", cure="drop a program that runs on the machine, or choose one")
    example = page.folder.name(page.folder.keep(dropped.filename, dropped.file.read()))
    return back(asked, "profile/new", ("from", said(form, "from")), name=said(form, "name"), example=example)


def _again(asked: Asked, form: FormData) -> Response:
    """Read an example once more, after that failed or was cancelled."""
    page, job, query = page_of(asked), job_of(asked), {name: said(form, name) for name in ("from", "example")}
    _example_task(page, job, query["from"], resolve(_place(page, job, query["from"])), query["example"], again=True)
    return back(asked, "profile/new", *query.items())


def _make(asked: Asked, form: FormData) -> Response:
    """Show what would be made, or make it in the folder of the part and post the part with it."""
    page, job = page_of(asked), job_of(asked)
    parent, example, name = asked.query_params.get("from", ""), asked.query_params.get("example", ""), said(form, "name")
    place, inside = _place(page, job, parent), page.folder.file("controllers")
    held, shows = resolve(place), {}
    if example:
        _, state = _example_task(page, job, parent, held, example)
        if state["status"] != "done":
            raise InputError("the example is not read yet", cure="wait until it is, then go on")
        shows = state["result"]
        held = replace(held, profile=with_values(held.profile, {each["key"]: _tuple(each["value"]) for each in shows["stated"]}))
    sets, sources = answers_given(questions(held, form))
    for each in shows.get("asked", ()):
        if each["key"] in form.getlist("take") and each["key"] not in [one.partition("=")[0] for one in sets]:
            sets.append(f"{each['key']}={each['said']}")
            sources[each["key"]] = f"{Path(example).name}, line {each['line']}: {each['text']} ({each['why']})"
    asked_for: dict[str, Any] = {"sets": sets, "sources": sources, "example": page.folder.file(example) if example else None}
    if said(form, "keep") != "make":
        return _shown(asked, typed=form, planned=create(name, place, inside, **asked_for, make=False))
    check_unchanged(job.path, said(form, "seen"))
    created = create(name, place, inside, **asked_for)
    named = beside(job, created.folder)
    try:
        resolve(created.folder, job.request.sets)
        save_job(job.path, changed_text(job.text, {"post.controller": named}), seen=said(form, "seen"))
    except (ProfileError, OutputError) as error:
        wrong = f"{created.folder} was made, but this part is not posted with it: {error.wrong}"
        raise InputError(wrong, place=error.place, cure=error.cure) from None
    return back(asked, "profile/state", made=created.folder.name)


ROUTES = [
    Route("/profile/new", _shown),
    Route("/profile/new", in_thread(_make, _shown), methods=["POST"]),
    Route("/profile/new/example", in_thread(_example, _shown), methods=["POST"]),
    Route("/profile/new/again", in_thread(_again), methods=["POST"]),
]
