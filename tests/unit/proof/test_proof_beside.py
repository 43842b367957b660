"""The proof that runs beside the writing says the same as the one that runs after it, and never holds the writing up for good."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from proof_parts import HEAD, TAIL, profile, toolpath

from steadyrest.errors import ProgramError
from steadyrest.profile import Profile
from steadyrest.proof import prove
from steadyrest.proof.beside import Prover, ahead
from steadyrest.reading import EventRead, read_program
from steadyrest.toolpath import Toolpath

MOVES = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18], "feed": 600}]
TEXT = HEAD + "G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\nX-50 F600\n" + TAIL


def beside(part: Toolpath, controller: Profile) -> Prover:
    return Prover(partial(prove, toolpath=part, profile=controller), partial(read_program, profile=controller), beside=True)


def in_lines(text: str) -> Iterator[bytes]:
    yield from (line.encode() for line in text.splitlines(keepends=True))


@pytest.mark.parametrize("text", [TEXT, TEXT.replace("X-50", "X-51")])
def test_beside_says_what_afterwards_says(text: str) -> None:
    part, controller = toolpath(MOVES), profile()
    with beside(part, controller) as prover:
        assert text.encode() == b"".join(prover.passing(in_lines(text)))
        assert prove(text.encode(), part, controller).to_json() == prover.verdict(Path("unused")).to_json()


def test_an_error_of_the_program_reaches_whoever_asks() -> None:
    with beside(toolpath(MOVES), profile()) as prover:
        for _ in prover.passing(in_lines(TEXT.replace("X-50", "X-5-0"))):
            pass
        with pytest.raises(ProgramError):
            prover.verdict(Path("unused"))


def test_writing_goes_on_when_the_proof_has_come_to_an_end() -> None:
    long = TEXT.replace("G0 A0\n", "Q7\nG0 A0\n") + "(more)\n" * 200
    with beside(toolpath(MOVES), profile()) as prover:
        assert long.encode() == b"".join(prover.passing(in_lines(long)))


def interrupted(prover: Prover) -> None:
    with prover:
        next(prover.passing(in_lines(TEXT)))
        raise KeyboardInterrupt


def test_an_interrupted_writing_ends_the_proof() -> None:
    prover = beside(toolpath(MOVES), profile())
    with pytest.raises(KeyboardInterrupt):
        interrupted(prover)
    assert prover._thread is not None
    assert not prover._thread.is_alive()


def events(count: int, broken: bool = False) -> Iterator[Any]:
    for line in range(count):
        yield EventRead(line, "comment")
    if broken:
        raise ProgramError("a broken line")


def threads() -> int:
    return sum(thread.name == "reading back" for thread in threading.enumerate())


def test_items_come_in_their_order() -> None:
    assert list(range(100)) == [item.line for item in ahead(events(100))]  # type: ignore[union-attr]
    assert 0 == threads()


def test_an_error_comes_where_its_item_would_have_come() -> None:
    items, seen = ahead(events(7, broken=True)), []
    for _ in range(7):
        seen.append(next(items).line)  # type: ignore[union-attr]
    with pytest.raises(ProgramError, match="a broken line"):
        next(items)
    assert list(range(7)) == seen


def test_closing_it_early_ends_the_thread() -> None:
    items = ahead(events(1000))
    next(items)
    items.close()  # type: ignore[attr-defined]
    assert 0 == threads()
