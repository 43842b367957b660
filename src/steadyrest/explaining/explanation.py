"""Where does each word of these lines come from?"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from steadyrest.errors import InputError, Place
from steadyrest.explaining.line_match import matched
from steadyrest.explaining.line_origins import LineOrigin, line_origins
from steadyrest.explaining.model import Explained, Explanation, Settings, Spot
from steadyrest.explaining.reasons import moves_of, why
from steadyrest.explaining.word_origins import event_words, motion_words
from steadyrest.posting import begin
from steadyrest.profile import resolve
from steadyrest.reading import opened_program
from steadyrest.request import Request, load
from steadyrest.toolpath import Toolpath
from steadyrest.writing import Origin, word_format


def explain(program: Path, first: int, last: int, request: Request) -> Explanation:
    """Explain the lines from first to last, both included, from 1, of a program's file.

    The program is written anew in memory, unproved, as `request` says; where the file differs from it, that is said.
    raises    InputError for a program that cannot be read, lines that it does not have, and whatever keeps it from being written
    """
    with opened_program(program) as opened:  # a byte that is no ASCII is no line of a program of ours, and stays visible as such
        file = opened.read().decode("utf-8", errors="replace").replace("\r\n", "\n").removesuffix("\n").split("\n")
    if not 1 <= first <= last <= len(file):
        raise InputError(
            f"the lines {first} to {last} are asked for, and there are {len(file)}" if first != last else f"there is no line {first}",
            place=Place(file=str(program)),
            cure=f"ask for lines from 1 to {len(file)}",
        )
    resolved = resolve(request.named_controller, request.sets)
    toolpath = load(request.part)
    told: list[Origin] = []
    underway = begin(toolpath, resolved, tolerance=request.tolerance, record=told.append)
    now = b"".join(underway.writing).decode("ascii").splitlines()
    match = matched(file, now)
    changed = [at + 1 for at, pair in enumerate(match.now) if not pair or file[at] != now[pair - 1]]
    origins = line_origins(told, set(match.now[first - 1 : last]))
    said = word_format(resolved.profile, inch=underway.inch, rotary_letter=underway.letter)
    turned = any(notice.kind == "EndForEnd" for notice in underway.notices)
    settings = Settings(resolved, said, underway.letter, end_for_end=turned)
    asked = _asked(toolpath, origins.values())
    explained = []
    for number in range(first, last + 1):
        pair = match.now[number - 1]
        if not pair:
            explained.append(Explained(number, file[number - 1], None))
            continue
        origin = origins[pair]
        at, move = origin.operation, origin.move
        operation = toolpath.operations[at - 1] if at else None
        says = asked.get((at, move), "")
        rule, reason, keys = why(origin, operation, says, settings, request.tolerance)
        text, row = now[pair - 1], origin.row
        notices = [notice.sentence() for notice in underway.notices if at and notice.place.operation == at and row is not None]
        before = next((one for one in reversed(match.now[: number - 1]) if one), 0)
        explained.append(
            Explained(
                number=number,
                text=file[number - 1],
                now=text,
                operation=at,
                operation_name=operation.name if operation is not None else "",
                intent=operation.rotary.intent if operation is not None else "",
                move=move,
                asked=says,
                rule=rule,
                why=reason,
                why_settings=keys,
                template=Spot(origin.template) if origin.template else None,
                words=motion_words(text, row, settings) if row is not None else event_words(text, origin, settings),
                notices=tuple(dict.fromkeys(notices)),
                missing=pair - before - 1,
            )
        )
    return Explanation(
        program, str(request.part), resolved.profile.name, tuple(explained), len(changed), changed[0] if changed else None, match.missing
    )


def _asked(toolpath: Toolpath, origins: Iterable[LineOrigin]) -> dict[tuple[int, int], str]:
    """What the toolpath says at the moves of some lines, by operation and move."""
    wanted: dict[int, set[int]] = {}
    for one in origins:
        if one.operation and one.move:
            wanted.setdefault(one.operation, set()).add(one.move)
    return {
        (operation, move): text
        for operation, moves in wanted.items()
        for move, text in moves_of(toolpath.operations[operation - 1], moves).items()
    }
