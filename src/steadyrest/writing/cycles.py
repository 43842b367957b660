"""Drilling cycles as blocks: the first says everything, the next only where they are, the last that there is no cycle."""

from __future__ import annotations

from steadyrest.errors import PlanError
from steadyrest.motion.model import PER_MINUTE, XY, Event
from steadyrest.writing.dialect import Dialect
from steadyrest.writing.events import spoken
from steadyrest.writing.modal import Modal
from steadyrest.writing.numbers import number_text, to_count

CYCLE_WORDS = ("z", "r", "peck", "dwell", "feed", "tap")
"""The numbers of a cycle, by the names under which planning sends them."""


def cycle_lines(event: Event, dialect: Dialect, modal: Modal) -> list[str]:
    """The blocks of a cycle's holes; `modal` is brought up to date, Z not known after it.

    raises PlanError for a cycle that the controller does not speak, or that cannot be said in steps (NISTIR 6556 section 3.5.16
    makes R and Z steps as well; planning spells such cycles out)
    """
    cycles = dialect.profile.cycles
    name = str(event.facts.get("cycle", ""))
    code = getattr(cycles, name.replace("-", "_"), "")
    if not code:
        raise PlanError(f"the controller has no cycle for '{name}'", cure=f"set cycles.{name.replace('-', '_')}, or spell it out in moves")
    if dialect.incremental:
        raise PlanError(f"the cycle '{name}' cannot be said in incremental words", cure="spell it out in moves")
    if event.holes is None or not len(event.holes.xy):
        raise PlanError(f"the cycle '{name}' has no holes", cure="give it holes")
    letters = {axis.letter for axis in dialect.axes if axis.column < 3}
    if not {"X", "Y", "Z"} <= letters:
        raise PlanError(f"the cycle '{name}' needs the axis whose drive turns the rotary", cure="spell it out in moves")
    fixed = [spoken(event.words[word], dialect) for word in CYCLE_WORDS if word in event.words]
    codes = []
    if dialect.has_inverse and modal.mode != PER_MINUTE:
        codes.append(dialect.profile.feed.per_minute_code)
    if modal.plane != XY:
        codes.append(dialect.plane_codes[XY])
    codes += [cycles.return_to_r, code]
    spelled = {axis.letter: axis.spelled for axis in dialect.axes}
    again = [code] if dialect.profile.words.repeat_motion else []
    lines: list[str] = []
    before: dict[str, int] = {}
    for hole in event.holes.xy:
        places = {letter: to_count(float(value), spelled[letter]) for letter, value in zip("XY", hole, strict=True)}
        moved = [letter for letter in "XY" if before.get(letter) != places[letter] or letter in dialect.repeat_axes]
        # A cycle's block names at least one axis (NISTIR 6556 section 3.5.16), also for the same hole once more.
        said = [letter + number_text(places[letter], spelled[letter]) for letter in moved or ("X", "Y")]
        if lines:
            words = again + said
        else:
            words = [word for word in codes if word] + said + fixed
        words.sort(key=lambda word: dialect.rank(word[0]))
        lines.append((" " if dialect.spaces else "").join(words))
        before = places
    if cycles.cancel:
        lines.append(cycles.cancel)
    modal.counts |= before
    for i, value in enumerate(event.holes.xy[-1]):
        modal.exact[i] = value
    modal.lose("Z")
    if dialect.has_inverse:
        modal.mode_now = PER_MINUTE
    return lines
