"""The sheet as HTML: a page of its own to print, or a piece for another page."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from steadyrest.sheet.facts import SheetFacts
from steadyrest.sheet.tools import number

HERE = Path(__file__).parent


def setup_sheet_page(facts: SheetFacts) -> str:
    """A whole page, self-contained: it opens offline and prints on A4 and Letter."""
    text: str = _environment().get_template("setup_sheet.html.j2").render(
        title=facts.posted.toolpath.name or "no name", style=Markup(setup_sheet_style()), sheet=Markup(setup_sheet_fragment(facts))
    )  # fmt: skip
    return text


def setup_sheet_fragment(facts: SheetFacts) -> str:
    """The sheet alone, one element of the class `setup-sheet`, for a page that carries `setup_sheet_style`."""
    file = Path(facts.posted.toolpath.file or "").name
    text: str = _environment().get_template("setup_sheet_fragment.html.j2").render(facts=facts, file=file)
    return text


@cache
def setup_sheet_style() -> str:
    """The style sheet; all of it holds inside `.setup-sheet` only, but for the size of printed pages."""
    return (HERE / "setup_sheet.css").read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["number"] = number
    environment.filters["drawn"] = Markup  # our own drawings, made of numbers and letters alone
    return environment
