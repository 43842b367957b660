"""After a failure the likeliest cause is named, in the failing operation, in plain words."""

from __future__ import annotations

import math

import pytest
from proof_parts import HEAD, TAIL, profile, toolpath

from steadyrest.profile import Profile, profile_digest
from steadyrest.proof import Verdict, head_line, prove
from steadyrest.proof.verdict import stale

STEPS = 12


def wave(sign: float = 1, scale: float = 1, dy: float = 0, dz: float = 0, turns: float = 0, feed: str = "G93 F{f}") -> str:
    """A wrapped wave on a cylinder of 40, written by hand for a rotary in the sense of ISO 841 (from memory): A = -(180 / pi) s / r."""
    words = []
    for k in range(1, STEPS + 1):
        along, developed, height = point(k)
        length = math.dist(point(k - 1), (along, developed, height))
        a = sign * -math.degrees(developed / 20) + turns
        f = feed.format(f=round(600 / length, 3))
        words.append(f"{f} X{along * scale:.4f} Y{dy:.4f} Z{(20 + height) * scale + dz:.4f} A{a:.4f}")
    start = f"G0 A{turns}\nX{-10 * scale:.4f} Y{dy}\nZ{30 * scale + dz:.4f}\nG94 G1 Z{20 * scale + dz:.4f} F200\n"
    return HEAD + start + "\n".join(words) + "\nG94\n" + TAIL


def point(k: int) -> tuple[float, float, float]:
    return -10 - 3.0 * k, 7 * math.sin(k) + 2 * k, 0.0


def verdict_of(text: str, controller: Profile | None = None) -> Verdict:
    moves = [
        {"rapid": [-10, 0, 10]},
        {"cut": [-10, 0, 0], "feed": 200},
        *({"cut": list(point(k)), "feed": 600} for k in range(1, STEPS + 1)),
    ]
    part = toolpath(moves, {"intent": "wrapped", "diameter": 40})
    exact = profile(numbers={"length": {"decimals": 4}, "angle": {"decimals": 4}})
    return prove(text.encode(), part, controller or exact)


def cause_of(text: str) -> str:
    verdict = verdict_of(text)
    assert verdict.failure is not None
    return verdict.failure.cause


def test_the_program_as_it_should_be_is_proved() -> None:
    verdict = verdict_of(wave())
    assert verdict.proved, verdict.text()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (wave(sign=-1), "mirrored"),
        (wave(scale=1 / 25.4), "scaled by 25.4"),
        (wave(dy=2), "constant offset: it would fit with every position moved back by Y +2"),
        (wave(dz=0.5), "constant offset: it would fit with every position moved back by Z +0.5"),
        (wave(feed="G94 F{f}"), "the feed mode"),
    ],
)
def test_a_cause_that_runs_through_all_blocks_is_named(text: str, words: str) -> None:
    assert words in cause_of(text)


def test_a_lost_turn_is_called_winding() -> None:
    lines = wave().splitlines()
    at = [k for k, line in enumerate(lines) if " A" in line]
    for k in at[4:]:
        head, angle = lines[k].rsplit("A", 1)
        lines[k] = f"{head}A{float(angle) + 360:.4f}"
    assert "winding" in cause_of("\n".join(lines) + "\n")


def test_a_whole_path_on_another_turn_is_right() -> None:
    assert verdict_of(wave(turns=-720)).proved


def test_one_wrong_block_is_called_a_fault_at_its_place() -> None:
    text = wave()
    line = text.splitlines()[15]
    assert "an error here only" in cause_of(text.replace(line, line.replace("Z20.0000", "Z19.9000")))


def test_the_head_line_tells_a_stale_program() -> None:
    digests = "ab" * 32, profile_digest(profile())
    line = head_line(*digests)
    assert set(line) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .-")
    assert line == f"PROVED TOOLPATH {'AB' * 8} PROFILE {digests[1][:16].upper()}"
    said = ["something else", f"digest {line}".lower()]
    assert "" == stale(said, *digests) == stale(said[:1], *digests)
    assert "against another version of the profile: " in stale(said, digests[0], "cd" * 32)
    assert "against another version of the toolpath and another version of the profile: " in stale(said, "cd" * 32, "cd" * 32)
    verdict = verdict_of(f"({line})\n" + wave())
    assert verdict.proved
    assert ["another version of the toolpath" in notice for notice in verdict.notices] == [True]


@pytest.mark.parametrize(("mirrored", "cause"), [(5, ""), (STEPS - 1, "mirrored")])
def test_a_cause_that_holds_for_half_of_the_points_is_none(mirrored: int, cause: str) -> None:
    """The first blocks of the wave turn the other way; they come after the eleven lines of head and approach."""
    wrong, right = wave(sign=-1).splitlines(), wave().splitlines()
    first = len(HEAD.splitlines()) + 4
    found = cause_of("\n".join([*wrong[: first + mirrored], *right[first + mirrored :]]) + "\n")
    assert found == "" if not cause else cause in found
