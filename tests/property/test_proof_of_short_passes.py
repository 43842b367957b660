"""Short passes judged many at once get the verdict that they get one by one, also where a line of the program was changed."""

from __future__ import annotations

from functools import cache
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.errors import ProgramError
from steadyrest.posting import posted_text
from steadyrest.profile import bundled_folder, load_profile
from steadyrest.proof import prove
from steadyrest.proof.short_passes import ShortPasses
from steadyrest.toolpath import Toolpath, parse_toolpath

PASSES = 40
AT_ONCE = ("rs274ngc", "rs274ngc-right-end", "counts-numbered", "inverse-seconds", "limited-clamped")
NAMES = (*AT_ONCE, "radius-arcs", "plain-lines", "incremental", "rollover-shortest")
BROKEN = ("", "X-7.", "X-9.005", "X-7000", "Y-9.9", "Z14", "Z17.005", "A7", "F90", "F1200", "F899", "M5", "M0", "G4 P1", "G0 Z10", "M30")


@cache
def part() -> Toolpath:
    """Passes all round: most of one cut, some with a second way in, an arc, a feed of its own, a cut to begin with, or none."""
    face: list[dict[str, Any]] = [{"rapid": [-5, -15, 21]}, {"cut": [-30, -15, 17.5], "feed": 900}, {"cut": [-30, 15, 17.5]}]
    arc = {"arc": [-30, 5, 17.5], "centre": [-30, 10, 0], "turns": "counterclockwise", "plane": "XY"}
    again = [{"rapid": [-30, 15, 21]}, {"rapid": [-9, 3, 21]}, {"cut": [-9, 3, 18], "feed": 200}, {"rapid": [-9, 3, 24]}]
    kinds = [face, face, [*face, arc], face, [*face, *again], face, [*face[:2], {"cut": [-30, 15, 17.5], "feed": 650}], face, face[1:]]
    stopped = [*face, {"stop": {"optional": True}}]
    no_cut = [{"rapid": [-5, -15, 21]}, {"rapid": [-5, -15, 30]}]
    others = {12: no_cut, 30: stopped, PASSES - 1: no_cut}
    moves = [others.get(at, kinds[at % 9]) for at in range(PASSES)]
    common = {"tool": 3, "spindle": {"rpm": 8000, "turns": "clockwise"}}
    operations = [{**common, "rotary": {"intent": "indexed", "angles": [15 * (at % 20)]}, "moves": one} for at, one in enumerate(moves)]
    return parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "units": "mm",
            "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0, "held": {"at": "from", "length": 5}},
            "tools": [{"number": 3, "shape": "flat", "diameter": 3}],
            "operations": operations,
        }
    )


@cache
def program(name: str) -> tuple[str, ...]:
    return tuple(posted_text(part(), name).splitlines())


def rounded(value: Any) -> Any:
    """Lengths of several blocks depend in their last digits on what was taken together."""
    if isinstance(value, dict):
        return {key: rounded(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(one) for one in value]
    return round(value, 9) if isinstance(value, float) else value


def judged(lines: tuple[str, ...], name: str, *, at_once: bool) -> tuple[Any, int]:
    """The verdict, or the words of the refusal to read; and how many passes were judged at once."""
    counts: list[int] = []
    figures = ShortPasses.figures

    def counted(*everything: Any) -> Any:
        found = figures(*everything) if at_once else None
        counts.append(found is not None)
        return found

    with patch.object(ShortPasses, "figures", counted):
        try:
            verdict = prove("\n".join([*lines, ""]).encode(), part(), load_profile(bundled_folder() / name))
        except ProgramError as error:
            return str(error), 0
    return rounded([verdict.to_json(), [str(one) for one in verdict.findings]]), sum(counts)


@pytest.mark.parametrize("name", AT_ONCE)
def test_most_short_passes_are_judged_at_once(name: str) -> None:
    found, at_once = judged(program(name), name, at_once=True)
    assert found[0]["proved"]
    assert at_once == PASSES - 4 - 3  # four begin with a cut, one has a stop, two have no cut
    assert (found, 0) == judged(program(name), name, at_once=False)


@pytest.mark.parametrize(
    ("said", "wrong", "told"),
    [
        ("F900", "F700", "lowered"),
        ("F900", "F1000", "feed"),
        ("F900", "F300", "feed"),
        ("Y15", "Y15.02", "off-path"),
        ("Y15", "Y15 (a comment)", ""),
        ("Y15", "Y15\nG4 P1", "stop-added"),
        ("Y15", "M0\nY15", "stop-in-cut"),
        ("Y15", "G0 Y15", "rapid-low"),
        ("G3", "G2", "off-path"),  # round the other side
    ],
)
def test_one_word_changed_among_many_passes_is_told_as_in_a_pass_by_itself(said: str, wrong: str, told: str) -> None:
    lines = program("rs274ngc")
    places = [at for at, line in enumerate(lines) if said in line.split()]
    at = places[len(places) // 2 + 1]
    changed = (*lines[:at], lines[at].replace(said, wrong), *lines[at + 1 :])
    found, many = judged(changed, "rs274ngc", at_once=True)
    assert many > 4
    assert (found, 0) == judged(changed, "rs274ngc", at_once=False)
    assert found[0]["proved"] == (told in ("", "lowered", "stop-added"))
    assert told in str(found)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=settings.default.max_examples // 4, deadline=None)
@given(at=st.integers(0, 10**4), change=st.sampled_from(["in", "out", "instead", "twice", "behind"]), broken=st.sampled_from(BROKEN))
def test_a_changed_program_gets_the_same_verdict_both_ways(name: str, at: int, change: str, broken: str) -> None:
    lines = program(name)
    at %= len(lines)
    middle = {"in": (broken, lines[at]), "out": (), "instead": (broken,), "twice": (lines[at],) * 2, "behind": (f"{lines[at]} {broken}",)}
    changed = (*lines[:at], *middle[change], *lines[at + 1 :])
    assert judged(changed, name, at_once=False)[0] == judged(changed, name, at_once=True)[0]
