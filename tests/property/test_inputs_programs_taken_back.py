"""A plain program that was written from a toolpath, taken as if it came from elsewhere, asks for what the program does."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.errors import InputError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.posting import begin
from steadyrest.profile import resolve
from steadyrest.proof import prove
from steadyrest.testing import toolpaths

FEW = settings.default.max_examples // 4
LANGUAGES = (
    "rs274ngc",
    "rs274ngc-right-end",
    "rs274ngc-b",
    "counts-numbered",
    "absolute-centres",
    "radius-arcs",
    "limited-clamped",
    "rollover-sign",
)


@pytest.mark.parametrize("intents", [["still"], ["indexed", "still"]], ids=["still", "indexed"])
@pytest.mark.parametrize("name", LANGUAGES)
@settings(max_examples=FEW)
@given(data=st.data())
def test_the_program_does_what_the_toolpath_taken_from_it_asks(name: str, intents: list[str], data: st.DataObject) -> None:
    resolved = resolve(name, ["spindle.dwell=0"])  # a pause to come up to speed is the profile's, and would be the toolpath's as well
    along = next(iter(resolved.profile.rotary.values())).along
    toolpath = data.draw(toolpaths(axis=along, intents=intents))
    try:
        text = b"".join(begin(toolpath, resolved))
    except InputError:
        return
    part = PartOptions(units=toolpath.units, axis=toolpath.axis, centre=toolpath.centre, stock=toolpath.stock, tools=toolpath.tools)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "part.nc"
        file.write_bytes(text)
        taken = take([Input(file=file, language=name, kind="program")], part)
    verdict = prove(text, taken, resolved.profile)
    assert verdict.proved, verdict.text()
