"""Where does each word, comment and mark of a line come from: what says it, what it says, which settings made it so?"""

from __future__ import annotations

import re

import numpy as np

from steadyrest.conventions import AXES, INVERSE, PLANES, RAPID
from steadyrest.events import EVENTS
from steadyrest.explaining.line_origins import LineOrigin, Row
from steadyrest.explaining.model import Setting, Settings, Spot, WordOrigin
from steadyrest.explaining.tool_axes import head_turned, tool_axis_in_words, trimmed, turn_in_words
from steadyrest.motion import Event
from steadyrest.writing import CENTRE_LETTERS, AxisWord, Printed, facts_of, setting_key

_PIECE = re.compile(r"(?P<comment>\([^)]*\)|;.*)|(?P<word>[A-Za-z:]\s*[-+]?(?:\d+\.?\d*|\.\d+))|(?P<other>[^\sA-Za-z:(;]+|\S)")
_MOTION = (
    ("codes.rapid", "rapid traverse"),
    ("codes.line", "straight line at feed"),
    ("codes.arc_clockwise", "arc clockwise, seen from the + end of the third axis"),
    ("codes.arc_counterclockwise", "arc counterclockwise, seen from the + end of the third axis"),
)
_STILL = 1e-9


def pieces(line: str) -> list[str]:
    """A line's words, comments and marks, from left to right, without the spaces between them."""
    return [found.group() if found["comment"] else re.sub(r"\s", "", found.group()) for found in _PIECE.finditer(line)]


def event_words(line: str, origin: LineOrigin, settings: Settings) -> tuple[WordOrigin, ...]:
    """The words of a line of an event, from left to right: each comes from what printed its first characters."""
    event = origin.event
    assert event is not None
    printed_by = [one for one in origin.printed for character in one.text if not character.isspace()]
    # What is written besides is a block number, which stands behind the mark of a block that can be left out.
    skip = line.startswith("/")
    numbered = len("".join(line.split())) - len(printed_by)
    printed_by[skip:skip] = [Printed("", "block number")] * numbered
    words: list[WordOrigin] = []
    at = 0
    for piece in pieces(line):
        length = len("".join(piece.split()))
        by = printed_by[at : at + length]
        at += length
        one = next((one for one in by if one.name), by[0])
        words.append(_origin(piece, one, event, not origin.template, settings))
    return tuple(words)


def _origin(piece: str, one: Printed, event: Event, plain: bool, settings: Settings) -> WordOrigin:
    spot = Spot(one.file, one.line) if one.file else None
    if one.name == "block number":
        return _block_number(piece, settings)
    if plain:
        return WordOrigin(piece, f"said as it stands by {event.rule}")
    if piece[:1] in ("(", ";"):
        of = f", from {', '.join(one.facts)}" if one.facts else ""
        keys = settings.of("program.comments.style", "program.comments.characters")
        return WordOrigin(piece, f"a comment for the operator{of}", keys, spot)
    if one.name.startswith("setting."):
        return WordOrigin(piece, "as the profile states it", settings.of(one.name.removeprefix("setting.")), spot)
    if not one.name:
        return WordOrigin(piece, "stands in the template", (), spot)
    name = one.name.removeprefix("words.")
    row = EVENTS.get(event.name)
    word = (row.words.get(name) or row.block.get(name)) if row is not None else None
    if row is None or word is None:
        return WordOrigin(piece, f"the word '{name}' of this event", (), spot)
    given = facts_of(event, settings.form)
    says = word.says.format_map(given)
    if settings.rotary is None and "rotary" in given:
        says = f"{given['rotary']}: {says}"
    keys = settings.of(*(setting_key(key, given, settings.form) for key in (word.code, *word.settings)))
    if name in row.block and not word.code:
        quantity = event.words.get(name)
        says += f": {quantity.value:.6g}" if quantity is not None else ""
        keys += settings.number(quantity.kind if quantity is not None else "length", piece[0])
    return WordOrigin(piece, says, keys, spot)


def _block_number(piece: str, settings: Settings) -> WordOrigin:
    return WordOrigin(piece, "block number", settings.of("program.block_numbers.use", "program.block_numbers.step"))


def motion_words(line: str, row: Row, settings: Settings) -> tuple[WordOrigin, ...]:
    """The words of a line of motion, from left to right."""
    return tuple(_word(piece, at == 0, row, settings) for at, piece in enumerate(pieces(line)))


def _word(piece: str, first: bool, row: Row, settings: Settings) -> WordOrigin:
    numbers = settings.profile.program.block_numbers
    if first and numbers.use != "none" and piece.startswith(numbers.letter):
        return _block_number(piece, settings)
    form, letter = settings.form, piece[0]
    for at, (key, name) in enumerate(_MOTION):
        if piece == form.motion_codes[at] and at == row.kind:
            repeated = settings.of("words.repeat_motion") if settings.profile.words.repeat_motion else ()
            return WordOrigin(piece, name, settings.of(key) + repeated)
    arcs = row.run.arcs if row.kind > 1 else None
    if arcs is not None and piece == form.plane_codes[arcs.plane[0]]:
        plane = PLANES[arcs.plane[0]]
        return WordOrigin(piece, f"the arc lies in {plane}", settings.of(f"codes.plane_{plane.lower()}"))
    if piece and piece == form.mode_codes[row.run.feed_mode[0]]:
        key, moves = _kind_of_move(row, settings)
        inverse = row.run.feed_mode[0] == INVERSE
        mode, code = ("inverse time", "feed.inverse_code") if inverse else ("feed per minute", "feed.per_minute_code")
        return WordOrigin(piece, f"{mode}, because {moves} in this block", settings.of(code, key))
    if letter == "F":
        return _feed(piece, row, settings)
    for axis in form.axes:
        if axis.letter == letter:
            return _rotary(piece, axis, row, settings) if axis.column >= 3 else _linear(piece, axis, row, settings)
    if arcs is not None and letter in CENTRE_LETTERS:
        counted = "a step from the arc's start" if settings.profile.arcs.centre_is == "incremental" else "a position"
        along = CENTRE_LETTERS.index(letter)
        exact = f" at {arcs.centre[0, along]:.6g}" if not np.isnan(arcs.centre[0, along]) else ""
        keys = settings.of("arcs.form", "arcs.centre_is") + settings.number("length", letter)
        return WordOrigin(piece, f"the arc's centre along {AXES[along]}{exact}, as {counted}", keys)
    if arcs is not None and letter == "R":
        return WordOrigin(piece, "the arc's radius, negative above 180 degrees", settings.of("arcs.form") + settings.number("length", "R"))
    return WordOrigin(piece, "a word that nothing planned asks for")


def _linear(piece: str, axis: AxisWord, row: Row, settings: Settings) -> WordOrigin:
    value = float(row.run.xyz[0, axis.column])
    unit = "inch" if settings.form.inch else "mm"
    says = f"to {axis.letter} {trimmed(value)} {unit} in work coordinates, rounded as a position"
    keys = settings.number("length", axis.letter)
    if settings.end_for_end and axis.column < 2:
        says += f"; the toolpath's {axis.letter} with its sign changed, because the job is turned end for end"
        keys = settings.of("rotary.*.chuck_faces") + keys
    if turned := head_turned(row.stands_deg, settings):
        says += f"; there the tip would be with {' and '.join(turned)} at 0, pivot and gauge length are worked in"
        keys = settings.of(*(f"rotary.{letter}.pivot" for letter in turned)) + keys
    if settings.form.incremental:
        says += ", written as the step from the last position"
        keys = settings.of("words.distance") + keys
    if axis.letter in settings.form.repeat_axes and abs(value - float(row.before_xyz[axis.column])) < _STILL:
        says += "; it stays, and is repeated"
        keys += settings.of("words.repeat_axes")
    return WordOrigin(piece, says, keys)


def _rotary(piece: str, axis: AxisWord, row: Row, settings: Settings) -> WordOrigin:
    """A rotary's word: the commanded angle, its winding, and the mounting that gives it its sign; of a chain where the tool then points."""
    w, name = float(row.rotary_deg[axis.column - 3]), settings.form.rotary_letters[axis.column - 3]
    turns = int(np.floor(w / 360.0 + 0.5))
    winding = f" ({trimmed(w - 360.0 * turns)} and {turns:+d} whole turn{'' if abs(turns) == 1 else 's'})" if turns else ""
    keys = settings.of(f"rotary.{name}.chuck_faces", f"rotary.{name}.positive_turns_chuck")
    says = f"{name if settings.rotary is None else 'the rotary'} to {trimmed(w)} degrees{winding}: {turn_in_words(name, settings, w)}"
    if settings.rotary is None:
        points = tool_axis_in_words(row.stands_deg, settings)
        says += f"; {points}" if points else ""
        keys = settings.of("chain") + keys + settings.of(f"rotary.{name}.leans.towards", f"rotary.{name}.leans.by")
    if axis.scale != 1.0:
        says += f", by the drive of {axis.letter}"
        keys += settings.of(f"rotary.{name}.replaces", f"rotary.{name}.mm_per_degree")
        return WordOrigin(piece, says, keys + settings.number("length", axis.letter))
    if axis.turn:
        way = "its sign is the direction" if axis.turning == "sign" else "the controller takes the shortest way"
        says += f"; written as a position within one turn, {way}"
        keys += settings.of(f"rotary.{name}.travel.kind", f"rotary.{name}.travel.rule")
    if settings.form.incremental:
        says += "; written as the step from the last position"
        keys += settings.of("words.distance")
    return WordOrigin(piece, says, keys + settings.number("angle", axis.letter))


def _kind_of_move(row: Row, settings: Settings) -> tuple[str, str]:
    """Which axes move in a row: the setting that chooses its feed mode, and that in words."""
    letters = settings.form.rotary_letters
    way = np.abs(row.run.xyz[0] - row.before_xyz)
    goes = bool(np.nanmax(np.append(way, 0.0)) > _STILL) or row.kind > 1
    turning = [letter for letter, turn in zip(letters, row.rotary_deg - row.before_deg, strict=True) if abs(turn) > _STILL]
    named = "the rotary" if len(letters) == 1 else " and ".join(turning)
    if goes and turning:
        return "feed.combined", f"linear axes and {named} move together"
    if not turning:
        return "feed.linear", "only linear axes move"
    return "feed.rotary", f"{named} moves alone" if len(turning) == 1 else f"{named} move, and no linear axis"


def _feed(piece: str, row: Row, settings: Settings) -> WordOrigin:
    if row.kind == RAPID:
        return WordOrigin(piece, "a feed")
    feed, (key, moves) = settings.profile.feed, _kind_of_move(row, settings)
    keys: tuple[Setting, ...] = settings.of(key)
    if row.run.feed_mode[0] == INVERSE:
        unit = {"per_minute": "1 over minutes", "per_second": "1 over seconds", "seconds": "seconds"}[feed.inverse_is]
        says = f"F {row.run.feed[0]:.6g} exactly: the time of this block, as {unit}, so that the tip has its feed"
        return WordOrigin(piece, says, keys + settings.of("feed.inverse_is") + settings.number("inverse_feed", "F"))
    if key == "feed.linear" or feed.per_minute_counts == "tip":
        says = f"F {row.run.feed[0]:.6g} exactly: the speed of the tip per minute"
    else:
        counts = "X, Y and Z alone" if feed.per_minute_counts == "linear_axes" else "all axes, a degree as a length unit"
        says = f"F {row.run.feed[0]:.6g} exactly: {moves}, and F counts {counts}; the tip has its feed"
        keys += settings.of("feed.per_minute_counts")
    return WordOrigin(piece, says, keys + settings.number("feed", "F"))
