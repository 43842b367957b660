"""After a failure the likeliest cause is named, in the failing operation, in plain words."""

from __future__ import annotations

import re

import pytest
from proof_parts import HEAD, STEPS, proof_of, toolpath, verdict_of, wave

from steadyrest.posting import posted_text
from steadyrest.profile import bundled_folder, load_profile
from steadyrest.proof import prove


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


@pytest.mark.parametrize("turns", [0, -720])
def test_a_lost_turn_is_called_winding(turns: float) -> None:
    lines = wave(turns=turns).splitlines()
    at = [k for k, line in enumerate(lines) if " A" in line]
    for k in at[4:]:
        head, angle = lines[k].rsplit("A", 1)
        lines[k] = f"{head}A{float(angle) + 360:.4f}"
    assert "winding: the angles are right except for +1 whole turn(s)" == cause_of("\n".join(lines) + "\n")


def test_a_whole_path_on_another_turn_is_right() -> None:
    assert verdict_of(wave(turns=-720)).proved


def test_one_wrong_block_is_called_a_fault_at_its_place() -> None:
    text = wave()
    line = text.splitlines()[15]
    assert "an error here only" in cause_of(text.replace(line, line.replace("Z20.0000", "Z19.9000")))


@pytest.mark.parametrize(("mirrored", "cause"), [(5, ""), (STEPS - 1, "mirrored")])
def test_a_cause_that_holds_for_half_of_the_points_is_none(mirrored: int, cause: str) -> None:
    """The first blocks of the wave turn the other way; they come after the eleven lines of head and approach."""
    wrong, right = wave(sign=-1).splitlines(), wave().splitlines()
    first = len(HEAD.splitlines()) + 4
    found = cause_of("\n".join([*wrong[: first + mirrored], *right[first + mirrored :]]) + "\n")
    assert found == "" if not cause else cause in found


@pytest.mark.parametrize("held", ["from", "to"])
def test_faces_turned_the_other_way_are_called_mirrored_at_either_end_of_the_stock(held: str) -> None:
    """A face of two points alone could fit by chance: the angles that come after it tell."""
    stock = {"shape": "round", "diameter": 40, "from": -100, "to": 0, "held": {"at": held, "length": 5}}
    moves = [{"rapid": [-50, 2, 30]}, {"cut": [-50, 2, 18], "feed": 200}, {"cut": [-60, 3, 18], "feed": 600}]
    part = toolpath(moves, {"intent": "indexed", "angles": [20, 55, 100, 150, 210]}, stock=stock)
    text, controller = posted_text(part, "rs274ngc"), load_profile(bundled_folder() / "rs274ngc")
    assert prove(text.encode(), part, controller).proved
    failure = prove(re.sub(r"A(-?)(\d)", lambda found: f"A{'' if found[1] else '-'}{found[2]}", text).encode(), part, controller).failure
    assert failure is not None
    assert "the rotary turning the other way" in failure.cause


@pytest.mark.parametrize(("one", "two"), ["XY", "XZ", "YZ"])
def test_swapped_axes_are_named(one: str, two: str) -> None:
    """Each two of the three, so that none is left out."""
    cuts = [(-10 - 3 * k, 3 + (k * k) % 7, 50 - (k * 5) % 11) for k in range(12)]
    part = toolpath([{"rapid": [-10, 3, 60]}, *({"cut": place, "feed": 300} for place in cuts)])
    text = "G1 F300 " + "".join("X{} Y{} Z{}\n".format(*place) for place in cuts)
    begin = "G0 A0\nX-10 Y3\nZ60\n"
    assert proof_of(begin + text, part).proved
    failure = proof_of(begin + text.translate(str.maketrans({one: two, two: one})), part).failure
    assert failure is not None
    assert f"{one} and {two} swapped" in failure.cause
