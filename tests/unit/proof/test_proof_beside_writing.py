"""The proof that runs beside the writing says the same as the one that runs after it, and never holds the writing up for good."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from proof_parts import HEAD, TAIL, profile, toolpath

from steadyrest.errors import ProgramError
from steadyrest.proof import prove
from steadyrest.proof.beside import Prover

MOVES = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}]
TEXT = HEAD + "G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\nX-50 F600\n" + TAIL


def in_lines(text: str) -> Iterator[bytes]:
    yield from (line.encode() for line in text.splitlines(keepends=True))


@pytest.mark.parametrize("text", [TEXT, TEXT.replace("X-50", "X-51")])
def test_beside_says_what_afterwards_says(text: str) -> None:
    part, controller = toolpath(MOVES), profile()
    with Prover(partial(prove, toolpath=part, profile=controller), beside=True) as prover:
        assert text.encode() == b"".join(prover.passing(in_lines(text)))
        assert prove(text.encode(), part, controller).to_json() == prover.verdict(Path("unused")).to_json()


def test_an_error_of_the_program_reaches_whoever_asks() -> None:
    with Prover(partial(prove, toolpath=toolpath(MOVES), profile=profile()), beside=True) as prover:
        for _ in prover.passing(in_lines(TEXT.replace("X-50", "X-5-0"))):
            pass
        with pytest.raises(ProgramError):
            prover.verdict(Path("unused"))


def test_writing_goes_on_when_the_proof_has_come_to_an_end() -> None:
    long = TEXT.replace("G0 A0\n", "Q7\nG0 A0\n") + "(more)\n" * 200
    with Prover(partial(prove, toolpath=toolpath(MOVES), profile=profile()), beside=True) as prover:
        assert long.encode() == b"".join(prover.passing(in_lines(long)))


def interrupted(prover: Prover) -> None:
    with prover:
        next(prover.passing(in_lines(TEXT)))
        raise KeyboardInterrupt


def test_an_interrupted_writing_ends_the_proof() -> None:
    prover = Prover(partial(prove, toolpath=toolpath(MOVES), profile=profile()), beside=True)
    with pytest.raises(KeyboardInterrupt):
        interrupted(prover)
    assert prover._thread is not None
    assert not prover._thread.is_alive()
