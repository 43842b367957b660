"""How is what was found put into one page that needs nothing else?

The page holds its data, style and scripts itself. Its content policy names the digest of each script, so that no other script can run,
and forbids every connection (W3C, Content Security Policy Level 3).
"""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment
from markupsafe import Markup

from steadyrest.errors import InputError
from steadyrest.viewer.looked import Looked
from steadyrest.viewer.page_data import page_data

PAGE = Path(__file__).parent / "page"


def write_page(looked: Looked, *, setup_sheet: tuple[str, str] | None = None) -> bytes:
    """The report as one HTML page.

    setup_sheet  a fragment of HTML, its text escaped, and its style sheet; None: there is none
    raises       InputError where the plotting library is not installed
    """
    data = page_data(looked)
    sheet, sheet_style = setup_sheet or (None, "")
    plotting, scripts = _plotting_script(), [_file(each.name) for each in sorted(PAGE.glob("*.js"))]
    template = Environment(autoescape=True, trim_blocks=False, keep_trailing_newline=True).from_string(_file("report.html.j2"))
    page = template.render(
        data.words,
        setup_sheet=None if sheet is None else Markup(sheet),
        policy=_policy([plotting, *scripts]),
        style=Markup(_file("report.css") + sheet_style),
        plotting=Markup(_deflated(plotting.encode())),
        scripts=[Markup(script) for script in scripts],
        facts=Markup(_json_in_script(data.facts)),
        columns=Markup(_deflated(data.columns)),
    )
    return page.encode("utf-8")


def _deflated(data: bytes) -> str:
    return base64.b64encode(zlib.compress(data, 6)).decode("ascii")


@cache
def _file(name: str) -> str:
    return (PAGE / name).read_text(encoding="utf-8")


@cache
def _plotting_script() -> str:
    try:
        from plotly.offline import get_plotlyjs
    except ImportError as error:
        raise InputError("the report needs the library plotly, which is not installed", cure="pip install 'steadyrest[report]'") from error
    return str(get_plotlyjs())


def _policy(scripts: Sequence[str]) -> str:
    digests = " ".join(f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'" for script in scripts)
    return f"default-src 'none'; script-src {digests}; style-src 'unsafe-inline'; img-src data: blob:; base-uri 'none'; form-action 'none'"


def _json_in_script(data: Any) -> str:
    """JSON that can stand in a script element whatever it holds: no `<` is left that could begin a tag or a comment."""
    text = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
