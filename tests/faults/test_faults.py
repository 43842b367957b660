"""Finished programs broken on purpose, in every bundled dialect: each fault is caught, or listed with the reason why it cannot be.

Caught is what is refused, and what is found for somebody to look at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from faults_by_hand import BY_HAND
from planted import FAULTS, NOT_CATCHABLE
from planting import Program, effect

from steadyrest.errors import SteadyrestError
from steadyrest.posting import posted_text
from steadyrest.profile import Profile, find_profiles, load_profile
from steadyrest.profile_tools import tried_gauge_lengths
from steadyrest.proof import RULES, Failure, prove, setting_of
from steadyrest.toolpath import Toolpath, load_toolpath
from steadyrest.viewer import both_sides

TOUR = sorted((Path(__file__).parent.parent / "golden" / "tour").glob("*.toolpath.json"))
ALIKE = ("leaning-table", "one-in-head", "two-in-head", "leaning-head")
"""Of machines that differ in where their axes lie alone from one in which all is planted: two-in-table, head-and-table."""
BUNDLED = sorted(found.name for found in find_profiles() if found.where == "bundled" and found.name not in ALIKE)
DIALECTS = ("rs274ngc", "limited-clamped", "radius-arcs", "counts-numbered", "tip-feed", "incremental", "plain-lines", "fixed-steps")
"""Between them they speak every kind of word that a fault is planted in."""
NEAREST = ("two-in-table", "head-and-table", "rollover-sign", "upright-c")
"""Of the others those that turn otherwise; the rest is gone through by the long tests."""


def programs(name: str) -> Iterator[Program]:
    """The tour in one dialect, as far as the profile can run it."""
    profile = load_profile(name)
    for path in TOUR:
        try:
            text = posted_text(path, name, gauge_lengths=tried_gauge_lengths(load_toolpath(path), profile))
        except SteadyrestError:
            continue
        yield Program.of(text, load_toolpath(path), profile)


def judged(text: str, toolpath: Toolpath, profile: Profile) -> tuple[str, Counter[str]]:
    """The rule for whose breach a program is refused, "reading" where it cannot be read, "" where it is proved; and what is found in it."""
    try:
        verdict = prove(text.encode("latin-1"), toolpath, profile, gauge_lengths=tried_gauge_lengths(toolpath, profile))
    except SteadyrestError:
        return "reading", Counter()
    if verdict.failure is not None:
        check_shown(verdict.failure, toolpath, profile)
    found = Counter({one.name: 0 for one in verdict.findings})
    for one in verdict.findings:
        found[one.name] += one.count
    return verdict.failure.rule if verdict.failure is not None else "", found


def check_shown(failure: Failure, toolpath: Toolpath, profile: Profile) -> None:
    """A refusal is drawn with its two sides, the place marked in both, or says why there is nothing to draw."""
    assert failure.difference is not None, failure
    setting = setting_of(toolpath, profile, None, None, tried_gauge_lengths(toolpath, profile))
    shown = both_sides(failure.difference, setting)
    assert bool(shown.why_not) != bool(shown.asked), failure
    for svg in filter(None, (shown.asked, shown.found)):
        assert 'class="mark' in svg or 'class="level' in svg, failure
        assert "nan" not in svg, failure


def missed_and_caught(name: str) -> tuple[list[str], dict[str, str]]:
    """Each fault is planted in the first program of the tour on which it does something to the machine.

    returns   what was missed; each fault that was caught, with the rule that it breaks ("finding" where it is only found)
    """
    open_faults = dict(FAULTS)
    missed: list[str] = []
    caught: dict[str, str] = {}
    for program in programs(name):
        before, found = None, judged(str(program.text), program.toolpath, program.profile)[1]
        for fault, plant in list(open_faults.items()):
            broken = plant(program)
            if broken is None or str(broken) == str(program.text):
                continue
            rule, now = judged(str(broken), program.toolpath, program.profile)
            if rule or now - found:
                caught[fault] = rule or "finding"
                del open_faults[fault]
                continue
            before = before if before is not None else effect(str(program.text), program.profile, None)
            if effect(str(broken), program.profile, None) == before:
                continue  # it moves and switches nothing otherwise than before
            del open_faults[fault]
            if fault not in NOT_CATCHABLE:
                missed.append(f"{fault}, in {program.toolpath.file}")
    return missed, caught


OTHERS = [pytest.param(name, marks=() if name in NEAREST else pytest.mark.long) for name in BUNDLED if name not in DIALECTS]


@pytest.mark.parametrize("name", OTHERS)
def test_every_fault_planted_in_a_dialect_is_caught_or_listed(name: str) -> None:
    missed, caught = missed_and_caught(name)
    assert [] == missed
    assert len(caught) > 20


def test_between_them_the_dialects_catch_every_kind_and_reach_every_rule(capsys: pytest.CaptureFixture[str]) -> None:
    """One test, so that no dialect is gone through twice where tests run side by side."""
    caught: set[str] = set()
    reached: dict[str, list[str]] = {rule: [] for rule in RULES}
    for name in DIALECTS:
        missed, found = missed_and_caught(name)
        assert [] == missed, name
        assert len(found) > 20, name
        caught |= set(found)
        for fault, rule in found.items():
            if rule in reached:
                reached[rule].append(fault)
    for rule, plant in BY_HAND.items():
        failure = plant().failure
        assert failure is not None
        assert rule == failure.rule
        reached[rule].append("a program by hand")
    with capsys.disabled():
        print(f"\n{len(FAULTS)} kinds of fault planted: {len(caught)} caught, {len(set(FAULTS) - caught)} not catchable:")
        for fault in FAULTS:
            if fault not in caught:
                print(f"  {fault}: {NOT_CATCHABLE.get(fault, 'NOT LISTED')}")
        print(f"\n{len(RULES)} rules of the proof:")
        for rule, faults in reached.items():
            print(f"  {rule}: {', '.join(dict.fromkeys(faults)) or 'NOT REACHED'}"[:160])
    assert len(caught) >= 40
    assert set() == set(FAULTS) - caught - set(NOT_CATCHABLE)
    assert [] == [rule for rule, faults in reached.items() if not faults]
