"""Drilling cycles as blocks: the first says everything, the next only where they are, the last that there is no cycle."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from steadyrest.errors import PlanError
from steadyrest.events import EVENTS
from steadyrest.motion import PER_MINUTE, XY, Event
from steadyrest.writing.dialect import Dialect
from steadyrest.writing.events import spoken
from steadyrest.writing.feeds import COARSE_PERCENT, feed_counts
from steadyrest.writing.modal import Modal
from steadyrest.writing.numbers import number_text, to_count
from steadyrest.writing.recording import Named


def cycle_blocks(event: Event, dialect: Dialect, modal: Modal, found: Callable[[int, float], None]) -> list[list[Named]]:
    """The words of the blocks of a cycle's holes, named as in the row of the event; `modal` is brought up to date, Z not known after it
    unless in steps. `found` takes the holes and the percentage of a coarse F.

    In steps the tool stands over the first hole at its R level already: X and Y are steps from hole to hole, R and Z as planned
    (NISTIR 6556 section 3.5.16).

    raises PlanError for a cycle that the controller does not speak
    """
    cycles = dialect.profile.cycles
    name = str(event.facts.get("cycle", ""))
    code = getattr(cycles, name.replace("-", "_"), "")
    if not code:
        raise PlanError(f"the controller has no cycle for '{name}'", cure=f"set cycles.{name.replace('-', '_')}, or spell it out in moves")
    if event.holes is None or not len(event.holes.xy):
        raise PlanError(f"the cycle '{name}' has no holes", cure="give it holes")
    # An axis whose drive turns the rotary is never named: planning has seen to it that it stands where the hole wants it.
    spelled = {axis.letter: axis.spelled for axis in dialect.axes if axis.column in (0, 1)}
    fixed = [Named(spoken(event.words[word], dialect), word) for word in EVENTS["cycle"].block if word in event.words and word != "feed"]
    if "feed" in event.words:
        counts, off_percent = feed_counts(np.array([event.words["feed"].value]), PER_MINUTE, dialect)
        fixed.append(Named(event.words["feed"].letter + number_text(int(counts[0]), dialect.feed), "feed"))
        if off_percent[0] > COARSE_PERCENT:
            found(len(event.holes.xy), float(off_percent[0]))
    codes = []
    if dialect.has_inverse and modal.mode != PER_MINUTE:
        codes.append(Named(dialect.profile.feed.per_minute_code, "feed_mode"))
    if modal.plane != XY:
        codes.append(Named(dialect.plane_codes[XY], "plane"))
    cycle = Named(code, "cycle")
    codes += [Named(cycles.return_to_r, "return_to_r"), cycle]
    again = [cycle] if dialect.profile.words.repeat_motion else []
    blocks: list[list[Named]] = []
    before = {letter: modal.counts[letter] for letter in spelled} if dialect.incremental else {}
    for hole in event.holes.xy:
        places = {letter: to_count(float(hole["XY".index(letter)]), form) for letter, form in spelled.items()}
        moved = [letter for letter in places if before.get(letter) != places[letter] or letter in dialect.repeat_axes]
        # A cycle's block names at least one axis (NISTIR 6556 section 3.5.16), also for the same hole once more.
        steps = {letter: places[letter] - before[letter] for letter in places} if dialect.incremental else places
        said = [Named(letter + number_text(steps[letter], spelled[letter]), letter) for letter in moved or places]
        words = again + said if blocks else [word for word in codes if word] + said + fixed
        blocks.append(sorted(words, key=lambda word: dialect.rank(word[0])))
        before = places
    if cycles.cancel:
        blocks.append([Named(cycles.cancel, "cancel")])
    modal.counts |= before
    modal.exact[:2] = event.holes.xy[-1]
    if not dialect.incremental:  # in steps it comes back to the R level, where it stood
        modal.lose("Z")
    if dialect.has_inverse:
        modal.mode_now = PER_MINUTE
    return blocks
