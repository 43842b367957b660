"""Proposals from a program: every setting that is claimed is the one that wrote the program, and nothing is guessed."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from profile_tools_parts import PARENT, claimed, shown

from steadyrest.profile import Profile, bundled_folder, load_profile, resolve
from steadyrest.profile_tools import tour
from steadyrest.profile_tools.example import read_example
from steadyrest.profile_tools.proposal import proposal
from steadyrest.profile_tools.settings import value_of
from steadyrest.profile_tools.trial import program_text

NAMES = sorted(folder.parent.name for folder in bundled_folder().glob("*/controller.toml"))


def written(profile: Profile, name: str) -> str:
    return program_text(tour()[name], replace(resolve("rs274ngc"), profile=profile))


def disagreements(profile: Profile, text: str) -> list[str]:
    """The claims that are not what the profile says. Of an order, that which the program shows counts."""
    found = []
    for claim in proposal(text.encode(), f"part{profile.program.extension}", PARENT).claims:
        value = value_of(profile, claim.key)
        if value is None and claim.key.endswith("inch_decimals"):
            value = value_of(profile, claim.key.replace("inch_decimals", "decimals"))
        if claim.key == "words.order":
            moves = read_example(text.encode(), "x").moves
            pairs = {(a.letter, b.letter) for move in moves for a, b in pairwise(w for w in move.line.words if w.letter != "M")}
            wrong = [
                pair
                for pair in pairs
                for order in (value, claim.value)
                if pair[0] != pair[1] and order.index(pair[0]) > order.index(pair[1])
            ]
            found += [f"{claim.key}: {pair}" for pair in wrong]
        elif value != claim.value:
            found.append(f"{claim.key} is {value!r}, claimed {claim.value!r} by line {claim.line}: {claim.text}")
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_claim_about_a_bundled_profiles_programs_is_what_it_says(name: str) -> None:
    profile = load_profile(name)
    texts = {toolpath: written(profile, toolpath) for toolpath in tour()}
    texts = {toolpath: text for toolpath, text in texts.items() if not text.startswith("refused: ")}
    assert texts
    assert {} == {toolpath: wrong for toolpath, text in texts.items() if (wrong := disagreements(profile, text))}


@pytest.mark.parametrize(
    ("sets", "toolpath", "keys"),
    [
        (["numbers.length.decimals=2"], "simultaneous", ["numbers.length.decimals"]),
        (["numbers.length.decimals=5", "numbers.angle.decimals=2"], "simultaneous", ["numbers.length.decimals", "numbers.angle.decimals"]),
        (["numbers.length.trailing_zeros=true"], "still", ["numbers.length.trailing_zeros", "numbers.length.decimals"]),
        (["numbers.length.point=always"], "still", ["numbers.length.point"]),
        (
            ["numbers.length.leading_zero=false", "numbers.length.plus=true"],
            "simultaneous",
            ["numbers.length.leading_zero", "numbers.length.plus"],
        ),
        (["units.program=inch"], "simultaneous", ["numbers.length.inch_decimals", "units.inch"]),
        (["units.mm=G71", "units.inch=G70"], "still", ["units.mm"]),
        (["words.spaces=false", "codes.rapid=G00"], "indexed", ["words.spaces", "codes.rapid"]),
        (["words.repeat_motion=true", "words.repeat_feed=true"], "overlong_turn", ["words.repeat_motion"]),
        (["words.repeat_axes=XYZA"], "simultaneous", []),
        (["words.order=NGAXYZBCIJKRPQLFSTHDM"], "wrapped", ["words.order"]),
        (["words.order=NGXYZABCIJKRPQLSTHDMF"], "still", []),
        (["program.block_numbers.use=every_block", "program.block_numbers.digits=6"], "still", ["program.block_numbers.digits"]),
        (["program.line_ending=crlf", "program.comments.style=semicolon"], "still", ["program.line_ending", "program.comments.style"]),
        (["arcs.centre_is=absolute"], "indexed", ["arcs.centre_is"]),
        (["arcs.form=radius", "arcs.full_circles=false"], "still", ["arcs.form", "arcs.full_circles"]),
        (["retract.form=reference"], "indexed", ["retract.form", "retract.reference_code"]),
        (["retract.machine_z=-12.5"], "indexed", ["retract.machine_z"]),
        (["feed.linear=inverse", "cycles.drill="], "wrapped", ["feed.linear", "feed.combined"]),
        (
            ["rotary.A.clamp.use=indexing", "rotary.A.clamp.on=M64", "rotary.A.clamp.off=M65"],
            "indexed",
            ["rotary.A.clamp.on", "rotary.A.clamp.off"],
        ),
        (["coolant.flood=M7", "coolant.mist=", "stops.end=M30"], "indexed", ["stops.end"]),
    ],
)
def test_what_a_setting_changes_in_a_program_is_claimed_of_it(sets: list[str], toolpath: str, keys: list[str]) -> None:
    profile = load_profile("rs274ngc", sets)
    text = written(profile, toolpath)
    wrong = [each for each in disagreements(profile, text) if not each.startswith("coolant.")]  # M7 is mist wherever nothing says otherwise
    assert [] == wrong
    assert set(keys) <= set(claimed(proposal(text.encode(), "part.nc", PARENT)))


def test_every_claim_but_those_of_the_whole_file_names_its_line() -> None:
    text = written(PARENT, "still")
    lines = text.splitlines()
    for claim in proposal(text.encode(), "part.nc", PARENT).claims:
        assert claim.text == (lines[claim.line - 1].strip() if claim.line else "")
        assert claim.why


def test_mounting_meaning_of_f_and_travel_are_never_claimed() -> None:
    for name in NAMES:
        for toolpath in ("indexed", "wrapped", "along_y", "along_z"):
            text = written(load_profile(name), toolpath)
            if text.startswith("refused: "):
                continue
            keys = claimed(proposal(text.encode(), "part.nc", PARENT))
            never = ("chuck_faces", "positive_turns_chuck", "along", "per_minute_counts", "inverse_is", "kind", "fastest")
            assert [] == [key for key in keys if key.rsplit(".", 1)[-1] in never]


def test_what_it_cannot_know_is_said() -> None:
    unknown = " ".join(shown("G90 G0 X1", "M2").unknown)
    for words in ("how the rotary is mounted", "what F means", "the travel of the axes", "mm or inches", "how arcs are given"):
        assert words in unknown


def test_the_proposal_is_data() -> None:
    data = shown("G21 G90", "G0 X1", "M30").as_json()
    assert {"key": "stops.end", "value": "M30", "line": 3, "text": "M30", "why": "the end of the program", "sure": True} in data["claims"]
