"""The step Part: what the inputs are, what is still missing, and what the part as a whole is; all of it kept in the job file."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any, get_args

import tomlkit
from pydantic import BaseModel, ValidationError
from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from tomlkit.items import AoT

from steadyrest.errors import InputError
from steadyrest.inputs import PROGRAMS_ONLY, InputOptions, PartOptions, Wrap, files_of, job_from
from steadyrest.page.app import Page, address, back, in_thread, job_of, page_of, said, shown, typed_in
from steadyrest.page.drawings import angles_drawing, end_drawing, side_drawing, sketch, tool_as_said, tool_drawing, wrap_drawing
from steadyrest.page.extents import extents
from steadyrest.page.fields import Control, Typed, Wrongs, controls, read, written, wrongs_of
from steadyrest.page.first import kept, without_job
from steadyrest.page.inputs_seen import begin_reading, changes, facts_of, is_long, key_of, name_in, seen
from steadyrest.page.job_file import JobFile, changed_text, save_job
from steadyrest.page.touches import ACROSS
from steadyrest.toolpath import Held, RectangularStock, RoundStock, Tool

STOCKS: Mapping[str, type[BaseModel]] = {"round": RoundStock, "rectangular": RectangularStock}
TOOLS: Mapping[str, type[BaseModel]] = {
    str(get_args(model.model_fields["shape"].annotation)[0]): model for model in get_args(get_args(Tool)[0])
}
SHAPES = {
    "flat": "end mill, flat end",
    "ball": "end mill, ball end",
    "bullnose": "end mill, rounded corners",
    "drill": "drill",
    "chamfer": "conical cutter",
}


def _names(model: type[BaseModel], *but: str) -> list[str]:
    return [said for name, field in model.model_fields.items() if (said := field.alias or name) not in but]


STOCK_FIELDS = {shape: _names(model, "shape", "held") for shape, model in STOCKS.items()}
TOOL_FIELDS = {shape: _names(model, "shape", "number") for shape, model in TOOLS.items()}
HELD_WORDS = {"at": {"": "not said", "from": "where it begins", "to": "where it ends"}}
PART_FIELDS = ("name", "units", "axis", "centre", "clearance")
INPUT_FIELDS = {
    "program": ("indexed", "shift", "tool", "units", "language", "leave_out"),
    "cl": tuple(name for name in InputOptions.model_fields if name not in (*PROGRAMS_ONLY, "kind")),
}
"""Of a kind of input, what can be said about it here; a wrap has fields of its own."""
WRAP_FIELDS = ("diameter", "start_angle", "z_from", "developed")
UNCHANGED = "Operations, feeds, tools, stock and extents are as they were; single points may have moved."
"""Of a file that was written anew."""
AXES_OF = {"centre": ("X", "Y", "Z"), "shift": ("X", "Y", "Z"), "across": ("one", "other")}


def _shown(
    asked: Asked, *, status: int = 200, wrong: Exception | None = None, typed: FormData | None = None, wrongs: Wrongs | None = None
) -> Response:
    page, job = page_of(asked), job_of(asked)
    facts: dict[str, Any] = {"job": job, "wrong": wrong, "task": None, "facts": None, "changed": []}
    if job.job is None:
        return shown(asked, "part.html.j2", "part", status, text=job.text, **facts)
    key = begin_reading(page, job)
    found = seen(page, key)
    if found is None:
        return shown(asked, "part.html.j2", "part", status, **{**facts, "task": key, "state": page.tasks.state(key)})
    was = seen(page, asked.query_params.get("was", ""))
    filled = typed_in(typed) if typed is not None else typed_of(job)
    told = (changes(was, found) or [UNCHANGED]) if was is not None else []
    facts |= {"facts": found, "key": key, "changed": told, "unkept": typed is not None}
    facts["others"] = without_job(page.folder)
    lie = found if typed is None else _as_typed(page, job, found, filled)
    return shown(
        asked,
        "part.html.j2",
        "part",
        status,
        **facts,
        **_forms(found, lie, filled, wrongs or {}, {str(tool.number) for tool in job.job.part.tools}),
    )


def _as_typed(page: Page, job: JobFile, found: Mapping[str, Any], typed: Typed) -> Mapping[str, Any]:
    """The facts of the inputs as they would be with what is typed, as far as that may be; of long inputs only stock and tools follow."""
    assert job.job is not None
    keys, _ = _inside(page, job, typed, found)
    try:
        tried = job_from(changed_text(job.text, keys), job.path)
    except InputError:
        return found
    toolpath = found["toolpath"]
    known = tried.stock is not None or tried.stock == job.job.stock
    as_read = all(getattr(tried, name) == getattr(job.job, name) for name in ("inputs", "units", "axis", "centre"))
    if not is_long(job) and not (as_read and known and toolpath is not None):
        return facts_of(tried, name_in(page.folder.path))
    if toolpath is None:
        return found
    tools = {tool["number"]: tool for tool in toolpath["tools"]} | {tool.number: tool.model_dump(mode="json") for tool in tried.part.tools}
    stock = tried.stock.model_dump(mode="json", by_alias=True, exclude_none=True) if tried.stock is not None else toolpath["stock"]
    missing = [each for each in found["missing"] if each["number"] not in {tool.number for tool in tried.part.tools}]
    return {**found, "missing": missing, "toolpath": {**toolpath, "stock": stock, "tools": list(tools.values())}}


def typed_of(job: JobFile) -> dict[str, str]:
    """What the job file says, as the controls of the form have it."""
    said_now = tomlkit.parse(job.text).unwrap()
    typed: dict[str, str] = {}
    for key in PART_FIELDS:
        if key in said_now:
            typed |= written(key, said_now[key])
    typed |= written("stock", said_now.get("stock", {}))
    for tool in said_now.get("tools", []):
        typed |= written(f"tool.{tool['number']}", tool)
    for at, each in enumerate(said_now.get("inputs", [])):
        wrap = each.get("wrap")
        whole = {**each, "wrap": {"diameter": wrap}} if isinstance(wrap, int | float) else each
        typed |= written(f"input.{at}", whole)
    return typed


def _forms(found: Mapping[str, Any], lie: Mapping[str, Any], typed: Typed, wrongs: Wrongs, own: set[str]) -> dict[str, Any]:
    """What the template needs; `lie` are the facts that the drawings show."""
    toolpath = found["toolpath"]
    units = toolpath["units"] if toolpath is not None else typed.get("units", "mm")
    across = ACROSS[toolpath["axis"] if toolpath is not None else "X"]
    offset = AXES_OF["shift"] if "stock.offset.2" in typed else across  # of two numbers or of three, as it is said
    said_of = partial(controls, typed=typed, wrongs=wrongs, units=units, parts={**AXES_OF, "across": across, "offset": offset})
    told = {} if toolpath is None else {str(tool["number"]): tool for tool in toolpath["tools"]}
    missing = {str(each["number"]): each for each in found["missing"]}
    numbers = sorted({*told, *missing, *map(str, _numbers(typed))}, key=int)
    return {
        "units": units,
        "part_controls": said_of(PartOptions, "", only=PART_FIELDS),
        "stock": typed.get("stock.shape", ""),
        "stock_wrong": wrongs.get("stock", ("", "")),
        "stocks": {shape: said_of(model, "stock.", only=STOCK_FIELDS[shape]) for shape, model in STOCKS.items()},
        "held": said_of(Held, "stock.held.", words=HELD_WORDS),
        "stock_open": found["needs_stock"] or any(name.startswith("stock") for name in wrongs),
        "lies": [side_drawing(lie["toolpath"]), end_drawing(lie["toolpath"])],
        "extents": extents(lie),
        "tools": [
            {**_tool(number, told.get(number, {}), missing.get(number), typed, wrongs, units), "own": number in own} for number in numbers
        ],
        "shapes": SHAPES,
        "drawings": {shape: tool_drawing(shape) for shape in TOOLS},
        "inputs": [_input(at, each, typed, wrongs, units, lie["toolpath"]) for at, each in enumerate(found["inputs"])],
        "sketch_svg": sketch(lie["toolpath"]),
        "operations": lie["toolpath"]["operations"] if lie["toolpath"] is not None else [],
        "lacking": _lacking(found),
    }


def _tool(
    number: str, told: Mapping[str, Any], missing: Mapping[str, Any] | None, typed: Typed, wrongs: Wrongs, units: str
) -> dict[str, Any]:
    """A tool: what an input or the job says of it, and the controls of each shape."""
    prefix = f"tool.{number}."
    given = {**{name: text for key, value in told.items() for name, text in written(prefix + key, value).items()}, **typed}
    if missing is not None and missing["diameter"]:
        given = {prefix + "diameter": f"{missing['diameter']:g}", **typed}
    elif missing is not None:
        given = dict(typed)
    shape = given.get(prefix + "shape", "")
    fields: dict[str, tuple[Control, str]] = {}
    for kind, model in TOOLS.items():
        for key, control in controls(model, prefix, given, wrongs, units=units, only=TOOL_FIELDS[kind]).items():
            shapes = " ".join([fields[key][1], kind]) if key in fields else kind
            fields[key] = (control, shapes)
    drawn, sizes = "", ""
    if shape in TOOLS:
        tool = {"number": int(number), "shape": shape, **read(TOOLS[shape], prefix, given, only=TOOL_FIELDS[shape])}
        with suppress(ValidationError):
            TOOLS[shape].model_validate(tool)
            drawn = tool_as_said(tool)
            out = f", {tool['length']} {units} out of its holder" if "length" in tool else ""
            sizes = f"{SHAPES[shape]}, diameter {tool['diameter']} {units}{out}"
    lacks = missing is not None and not drawn
    return {
        "number": number,
        "shape": shape,
        "drawn": drawn,
        "sizes": sizes,
        "open": lacks or missing is not None or any(name.startswith(prefix) or name == prefix.rstrip(".") for name in wrongs),
        "name": given.get(prefix + "name", "") or (missing or {}).get("name", ""),
        "missing": missing,
        "fields": list(fields.values()),
        "wrong": wrongs.get(prefix.rstrip("."), wrongs.get(prefix + "shape", ("", ""))),
    }


def _input(
    at: int, each: Mapping[str, Any], typed: Typed, wrongs: Wrongs, units: str, toolpath: Mapping[str, Any] | None
) -> dict[str, Any]:
    prefix = f"input.{at}."
    kind = each["kind"] if each["kind"] in INPUT_FIELDS else ""
    angles, diameter = (typed.get(f"{prefix}{name}", "") for name in ("indexed", "wrap.diameter"))
    laid = f"cut at {angles} degrees" if angles else f"wrapped round {diameter} {units}" if diameter else "cut with the rotary still"
    return {
        **each,
        "laid": laid if kind == "program" else "",
        "drawn": _laid(prefix, typed, units, toolpath["axis"] if toolpath is not None else "X") if kind == "program" else "",
        "at": at,
        "controls": controls(InputOptions, prefix, typed, wrongs, units=units, only=INPUT_FIELDS.get(kind, ()), parts=AXES_OF)
        if kind
        else {},
        "wrap": controls(Wrap, f"{prefix}wrap.", typed, wrongs, units=units, only=WRAP_FIELDS) if kind == "program" else {},
        "wrong": wrongs.get(prefix.rstrip("."), ("", "")),
    }


def _laid(prefix: str, typed: Typed, units: str, axis: str) -> str:
    """How a flat program is laid on the part with what is typed of it: at angles, or round a cylinder. Empty where that is not said yet."""
    with suppress(ValidationError):
        options = InputOptions.model_validate(read(InputOptions, prefix, typed, only=("indexed",)))
        if options.indexed is not None:
            return angles_drawing(axis, options.indexed)
        wrap = read(Wrap, f"{prefix}wrap.", typed, only=WRAP_FIELDS)
        return wrap_drawing(axis, Wrap.model_validate(wrap).model_dump(), units)
    return ""


def _lacking(found: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What is still missing, in plain words, and where on the page it is said; nothing where the part is whole."""
    told = [(f"{each['file']} cannot be read", "inputs-name") for each in found["inputs"] if each["error"] is not None]
    told += [
        (f"the shape of tool {each['number']}{f' ({name})' if (name := each['name']) else ''}", f"tool-{each['number']}")
        for each in found["missing"]
    ]
    if found["needs_stock"]:
        told.append(("the stock, or a clearance", "stock-name"))
    if found["error"] is not None:
        told.append((found["error"]["wrong"], "inputs-name"))
    return told


def _numbers(typed: Typed) -> list[int]:
    """The numbers of the tools about which a form says anything."""
    found = {name.split(".")[1] for name in typed if name.startswith("tool.")}
    return sorted(int(each) for each in found if each.isascii() and each.isdigit())


def _described(found: Mapping[str, Any] | None) -> dict[int, dict[str, Any]]:
    """The tools of a toolpath by number, as the form gives them; what stands in for a missing one left out."""
    if found is None or found["toolpath"] is None:
        return {}
    missing = {each["number"] for each in found["missing"]}
    tools = [tool for tool in found["toolpath"]["tools"] if tool["number"] not in missing]
    return {tool["number"]: {key: value for key, value in tool.items() if value != ""} for tool in tools}


def _save(asked: Asked, form: FormData, ordered: Callable[[str], str] = str) -> Response:
    """Keep what was typed; where something of it may not be, nothing is kept, and all stays in the form with what is wrong.

    Where `do` is `show`, nothing is kept either: drawings and figures follow what is typed, and a file written anew costs no typing.

    ordered   what becomes of the job's text besides
    """
    page, job = page_of(asked), job_of(asked)
    typed = typed_in(form)
    if said(form, "do") == "show":
        return _shown(asked, typed=form)
    found = seen(page, key_of(job)) if job.job is not None else None
    keys, wrongs = _inside(page, job, typed, found)
    if wrongs:
        return _shown(asked, status=422, typed=form, wrongs=wrongs)
    save_job(job.path, ordered(changed_text(job.text, keys)), seen=said(form, "seen"))
    return back(asked, "part")


def _inside(page: Page, job: JobFile, typed: Typed, found: Mapping[str, Any] | None) -> tuple[dict[str, Any], dict[str, tuple[str, str]]]:
    """As of `_asked`; a file that is not in the folder of the page is wrong: it would not be read here."""
    keys, wrongs = _asked(typed, tomlkit.parse(job.text).unwrap(), _described(found))
    for key, value in list(keys.items()):
        if key.endswith(".words") and value and not page.folder.holds(job.path.parent / value):
            wrongs[key.replace("inputs.", "input.", 1)] = (f"{value} is not in the folder of this page", "copy it there")
            del keys[key]
    return keys, wrongs


def _asked(
    typed: Typed, said_now: Mapping[str, Any], told: Mapping[int, Mapping[str, Any]]
) -> tuple[dict[str, Any], dict[str, tuple[str, str]]]:
    """The keys of the job file that were typed, with their values or None, and what is wrong of them by control; of a tool, the stock or an
    input of which anything is wrong there are no keys.

    told   tools that inputs or the job describe, by number: what says no more than an input does is not kept, or it would hold against
           the file that CAM writes next
    """
    keys: dict[str, Any] = {}
    wrongs: dict[str, tuple[str, str]] = {}

    def refused(model: type[BaseModel], prefix: str, values: Mapping[str, Any]) -> bool:
        found = wrongs_of(model, prefix, values)
        wrongs.update(found)
        return bool(found)

    def put(prefix: str, names: Iterable[str], values: Mapping[str, Any], now: Mapping[str, Any]) -> None:
        for name in names:
            if values.get(name) != now.get(name):
                keys[prefix + name] = values.get(name)

    part = read(PartOptions, "", typed, only=PART_FIELDS)
    if not refused(PartOptions, "", part):
        put("", PART_FIELDS, part, said_now)
    now = said_now.get("stock", {})
    if (shape := typed.get("stock.shape", "")) in STOCKS:
        stock = {
            "shape": shape,
            **read(STOCKS[shape], "stock.", typed, only=STOCK_FIELDS[shape]),
        }
        held = read(Held, "stock.held.", typed)
        whole = {**stock, **({"held": held} if held else {})}
        if not refused(STOCKS[shape], "stock.", whole):
            put("stock.", dict.fromkeys(["shape", *(name for names in STOCK_FIELDS.values() for name in names)]), stock, now)
            put("stock.held.", ("at", "length"), held, now.get("held", {}))
            if not held and "held" in now:
                keys["stock.held"] = None
    elif now:
        keys["stock"] = None
    tools = [tool["number"] for tool in said_now.get("tools", [])]
    described = {tool["number"] for tool in said_now.get("tools", []) if "shape" in tool}
    for number in _numbers(typed):
        shape, prefix = typed.get(f"tool.{number}.shape", ""), f"tool.{number}."
        if shape not in TOOLS:
            if any(value for name, value in typed.items() if name.startswith(prefix)):
                wrongs[prefix + "shape"] = ("its shape is not chosen", "choose one of the drawings, then its sizes")
            continue
        tool = {
            "number": number,
            "shape": shape,
            **read(TOOLS[shape], prefix, typed, only=TOOL_FIELDS[shape]),
        }
        if (number not in described and tool == told.get(number)) or refused(TOOLS[shape], prefix, tool):
            continue
        if number not in tools:
            tools.append(number)
        at = tools.index(number)
        before = said_now["tools"][at] if at < len(said_now.get("tools", [])) else {}
        put(f"tools.{at}.", dict.fromkeys(["number", *(name for model in TOOLS.values() for name in _names(model))]), tool, before)
    for at, before in enumerate(said_now.get("inputs", [])):
        prefix = f"input.{at}."
        names = [name for kind in INPUT_FIELDS.values() for name in kind if prefix + name in typed or f"{prefix}{name}.0" in typed]
        options = read(InputOptions, prefix, typed, only=dict.fromkeys(names))
        wrap = read(Wrap, f"{prefix}wrap.", typed, only=WRAP_FIELDS) if f"{prefix}wrap.diameter" in typed else None
        if wrap and (wrap.keys() - {"z_from"} or before.get("wrap")):
            options["wrap"] = wrap
        was = before.get("wrap")
        was = {"diameter": was} if isinstance(was, int | float) else was
        if refused(InputOptions, prefix, options):
            continue
        put(f"inputs.{at}.", names, options, before)
        if wrap is not None and {**(options.get("wrap") or {})} != {
            **(was or {}),
            **({"z_from": wrap["z_from"]} if was and "z_from" in wrap and "z_from" not in was else {}),
        }:
            keys[f"inputs.{at}.wrap"] = options.get("wrap")
    return keys, wrongs


def _order(asked: Asked, form: FormData) -> Response:
    """Move an input, take it away, or add files; what was typed beside it is kept as well."""
    page, job = page_of(asked), job_of(asked)
    files = [*kept(page, form), *([page.folder.file(said(form, "add"))] if said(form, "add") else [])]
    does, _, number = said(form, "do").partition(" ")
    if does == "forget":  # what was typed of a tool goes with it
        form = FormData([(name, value) for name, value in form.multi_items() if not name.startswith(f"tool.{number}.")])
    own = {os.path.realpath(each) for each in files_of(job.path)}
    fresh = [os.path.relpath(each, job.path.parent) for each in files if os.path.realpath(each) not in own]
    if files and not fresh:  # an input that was missing, or is written anew
        return _save(asked, form)
    return _save(asked, form, partial(_ordered, does=said(form, "do"), files=fresh))


def _ordered(text: str, does: str, files: Sequence[str]) -> str:
    """The text of a job with its inputs in another order, comments and all.

    does   up, down or remove with the number of an input from 0, such as `up 1`; add, which puts the files at the end; or forget with the
           number of a tool that the job describes
    """
    document = tomlkit.parse(text)
    inputs: Any = document["inputs"]
    does, _, which = does.partition(" ")
    number = int(which) if which.isascii() and which.isdigit() else -1
    if does == "add" and not files:
        raise InputError("no file is chosen", cure="choose one of the list, or another file")
    if does == "add":
        return changed_text(text, {f"inputs.{len(inputs) + at}.file": Path(file).as_posix() for at, file in enumerate(files)})
    if does == "forget":
        place = next((index for index, tool in enumerate(document.get("tools", ())) if tool["number"] == number), None)
        if place is None:
            raise InputError(f"the job says nothing of tool {which}", cure="reload the page: it was taken away already")
        return changed_text(text, {f"tools.{place}": None})
    if not 0 <= number < len(inputs) or does not in ("up", "down", "remove"):
        raise InputError("there is no such input", cure="reload the page, and choose again")
    if does == "remove" and len(inputs) == 1:
        raise InputError("a job has one input at least", cure="add another one first; or begin another part")
    if does == "remove":
        return changed_text(text, {f"inputs.{number}": None})
    other = number + (1 if does == "down" else -1)
    if 0 <= other < len(inputs):
        entries: list[Any] = list(inputs)
        entries[number], entries[other] = entries[other], entries[number]
        fresh: Any = tomlkit.aot() if isinstance(inputs, AoT) else tomlkit.array()
        for each in entries:
            fresh.append(each)
        document["inputs"] = fresh
    return tomlkit.dumps(document)


def _state(asked: Asked) -> Response:
    """What decides how the inputs are read, now: another key means that a file was written anew. Light, for every page to ask."""
    job = job_of(asked)
    return JSONResponse(
        {"key": key_of(job) if job.job is not None else "", "look": address(asked, "part", job=asked.query_params.get("job"))}
    )


ROUTES = [
    Route("/part", _shown),
    Route("/part", in_thread(_save, _shown), methods=["POST"]),
    Route("/part/order", in_thread(_order, _shown), methods=["POST"]),
    Route("/part/state", _state),
]
