"""The toolpath, job files and mapping files, key by key."""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from typing import Any

from making import terminals
from making.markdown import block, code, page, table, target, text
from making.stated import ROOT
from steadyrest.inputs import job, job_schema
from steadyrest.inputs.cl.statement import WordsFile
from steadyrest.schema_words import allowed, anchor, default, name_of
from steadyrest.toolpath import toolpath_schema

Schema = Mapping[str, Any]


def pages() -> dict[str, str]:
    """One page each."""
    return {"toolpath.md": _toolpath(), "job.md": _job(), "words.md": _words()}


def _toolpath() -> str:
    example = (ROOT / "tests" / "golden" / "tour" / "indexed.toolpath.json").read_text(encoding="utf-8")
    return page(
        "The toolpath",
        "One JSON file, UTF-8, `NAME.toolpath.json`, version 1. It knows no controller. Lengths are in `units`, angles in degrees, feeds "
        "per minute. A key that is not listed here is an error. `steadyrest schema toolpath` prints the same as a JSON schema.",
        "Part frame: right-handed, Z along the spindle and away from the part; with the rotary at zero it is the work coordinate system. "
        "The axis of rotation runs along + of `axis` through `centre`. `feed` is the speed of the tool's tip over the part along the path, "
        "never a controller's F.",
        *_keys(toolpath_schema(), "toolpath", "The file"),
        "## A whole toolpath",
        "The first part of the tour, on which every profile is tried; where it is cut, along the axis to the right and round it downwards:",
        "![Sketch of the first part of the tour: its passes by the numbers of their operations](drawings/indexed.svg)",
        block(example, "json"),
    )


def _job() -> str:
    said = inspect.getdoc(job) or ""
    example = "\n".join(line.removeprefix("    ") for line in said.splitlines() if line.startswith("    "))
    return page(
        "Job files",
        "A shop keeps one for each part, `NAME.job.toml`: its inputs, the options for them and for the part, and how it is posted. "
        "Paths count from the folder of the job file; `steadyrest post NAME.job.toml` needs no options. "
        "`steadyrest schema job` prints the same as a JSON schema.",
        "The page keeps all that is said on it in such a file:",
        "![The stock as the page draws it: the end in the jaws, the origin, and where is cut](../pictures/page-part-light.webp)",
        block(example, "toml"),
        *_keys(job_schema(), "job", "The file"),
    )


def _words() -> str:
    said = inspect.getdoc(WordsFile) or ""
    first, _, example = said.partition("\n\n")
    return page(
        "Mapping files",
        text(first) + " A job file names the mapping file in `words` of an input.",
        "Without it a word that nobody knows is refused, with its statement:",
        terminals.picture("unknown-word"),
        block(example, "toml"),
        *_keys(WordsFile.model_json_schema(by_alias=True), "words", "The file"),
    )


def _keys(schema: Schema, prefix: str, title: str) -> list[str]:
    """The keys of the whole, then those of each definition, in the order in which they are first needed."""
    parts = [f"## {title}", _table(schema, prefix)]
    for name in _in_order(schema):
        one = schema["$defs"][name]
        parts += [target(anchor(prefix, name)), f"## {name}", text(one.get("description", "")), _table(one, prefix)]
    return parts


def _table(schema: Schema, prefix: str) -> str:
    if not schema.get("properties"):
        return f"Allowed: {allowed(schema, prefix)}."
    needed = set(schema.get("required", []))
    rows = []
    for key, each in schema["properties"].items():
        mark = "needed" if key in needed else default(each) or "as below"
        rows.append((code(key), mark, allowed(each, prefix), text(each.get("description", ""))))
    return table(["key", "default", "allowed", "meaning"], rows)


def _in_order(schema: Schema) -> list[str]:
    found: list[str] = []

    def walk(node: Any) -> None:
        if isinstance(node, Mapping):
            name = name_of(node["$ref"]) if "$ref" in node else None
            if name is not None and name not in found:
                found.append(name)
                walk(schema["$defs"][name])
            for key, value in node.items():
                if key not in ("$defs", "discriminator"):
                    walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    walk(schema)
    return found
