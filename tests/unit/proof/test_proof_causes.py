"""After a failure the likeliest cause is named, in the failing operation, in plain words."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from proof_parts import HEAD, STEPS, proof_of, toolpath, verdict_of, wave

from chain_programs import C_ON_A, GAUGE, HEAD_AND_TABLE, LEANING, TWO_IN_HEAD, bowl, machine, planes, verdict, written
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


BOWL = bowl(60)
_ZIGZAG: list[dict[str, Any]] = [{"cut": [x, y, -1 - 0.1 * x], "feed": 500} for x in range(1, 5) for y in range(4)]
FACES = planes([{"rapid": [0, 0, 60]}, {"rapid": [0, 0, 2]}, *_ZIGZAG, {"rapid": [4, 3, 60]}])


def stated(chain: dict[str, Any], letter: str, **facts: Any) -> dict[str, Any]:
    return {**chain, "rotary": {**chain["rotary"], letter: {**chain["rotary"][letter], **facts}}}


def swapped(text: str) -> str:
    return text.replace("C", "@").replace("A", "C").replace("@", "A")


TURNED = {"positive_turns_chuck": "counterclockwise"}


@pytest.mark.parametrize(
    ("chain", "made_for", "cause"),
    [
        (C_ON_A, stated(C_ON_A, "C", **TURNED), "mirrored: it would fit with C turning the other way"),
        (C_ON_A, stated(C_ON_A, "A", point=[0, 0.22, 48]), "the axis of A: it would fit with it moved by Y +0.1; check rotary.A.point"),
        (HEAD_AND_TABLE, stated(HEAD_AND_TABLE, "B", pivot=[0.1, 0.05, 150]), "the pivot of B: it would fit with it moved by X +0.1;"),
        (TWO_IN_HEAD, stated(TWO_IN_HEAD, "A", **TURNED), "mirrored: it would fit with A turning the other way"),
        (
            LEANING,
            stated(LEANING, "B", leans={"towards": "-Y", "by": 45}),
            "it would fit with B leaning the other way;",
        ),
    ],
)
def test_a_program_made_for_another_chain_is_told_what_differs(chain: dict[str, Any], made_for: dict[str, Any], cause: str) -> None:
    failure = verdict(written(BOWL, machine(made_for)).program(), BOWL, machine(chain), gauge_lengths=GAUGE).failure
    assert failure is not None
    assert failure.cause.startswith(cause)


@pytest.mark.parametrize("part", [BOWL, FACES], ids=["bowl", "planes"])
@pytest.mark.parametrize("chain", [HEAD_AND_TABLE, TWO_IN_HEAD])
def test_the_gauge_length_of_another_tool_is_named_with_that_which_is_stated(part: Any, chain: dict[str, Any]) -> None:
    failure = verdict(written(part, machine(chain), gauge=100.0).program(), part, machine(chain), gauge_lengths=GAUGE).failure
    assert failure is not None
    assert failure.cause.startswith("the gauge length: it would fit with 100 mm for tool 1; 128.35 mm is stated")


@pytest.mark.parametrize("part", [BOWL, FACES], ids=["bowl", "planes"])
@pytest.mark.parametrize(
    ("change", "spoil", "cause"),
    [
        (lambda _, words: words, swapped, "it would fit with the words of C and A swapped"),
        (
            lambda _, words: words + np.array([0.5, 0, 0, 0, 0]),
            str,
            "a constant offset: it would fit with every position moved back by X +0",
        ),
        (lambda _, words: words / np.array([25.4, 25.4, 25.4, 1, 1]), str, "units: it would fit with every length scaled by 25.4"),
        (lambda number, words: words + np.array([0, 0.5 * (number == 4), 0, 0, 0]), str, "an error here only"),
    ],
)
def test_what_runs_through_all_words_of_two_rotaries_is_named(
    part: Any, change: Callable[..., Any], spoil: Callable[[str], str], cause: str
) -> None:
    failure = verdict(spoil(written(part, change=change).program()), part).failure
    assert failure is not None
    assert failure.cause.startswith(cause)


@pytest.mark.parametrize(
    ("spoil", "cause"),
    [
        (lambda text: text.replace("G93 G1", "G94 G1"), "the feed mode: F would be right in inverse time (1 over minutes)"),
        (
            lambda text: re.sub(r"(G93.*F)([\d.]+)", lambda found: f"{found[1]}{10 * float(found[2]):.4f}", text),
            "a decimal point",
        ),
    ],
)
def test_another_reading_of_f_is_named_where_two_rotaries_turn(spoil: Callable[[str], str], cause: str) -> None:
    failure = verdict(spoil(written(BOWL).program()), BOWL).failure
    assert failure is not None
    assert failure.cause.startswith(cause)
    assert failure.difference is not None
    assert "speed of the tip" in [figure.name for figure in failure.difference.figures]
