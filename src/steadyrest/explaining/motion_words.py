"""What does each word of a motion line say, and which settings made it so?"""

from __future__ import annotations

import numpy as np

from steadyrest.explaining.listening import Row
from steadyrest.explaining.model import Setting, WordOrigin
from steadyrest.explaining.settings import Settings
from steadyrest.explaining.words_of_line import block_number
from steadyrest.motion import INVERSE, RAPID
from steadyrest.writing import CENTRE_LETTERS, AxisWord

_MOTION = (
    ("codes.rapid", "rapid traverse"),
    ("codes.line", "straight line at feed"),
    ("codes.arc_clockwise", "arc clockwise, seen from the + end of the third axis"),
    ("codes.arc_counterclockwise", "arc counterclockwise, seen from the + end of the third axis"),
)
_PLANES = (("codes.plane_xy", "XY"), ("codes.plane_xz", "XZ"), ("codes.plane_yz", "YZ"))
_STILL = 1e-9


def motion_words(said: list[str], row: Row, settings: Settings) -> tuple[WordOrigin, ...]:
    """The words of a line of motion, from left to right."""
    return tuple(_word(piece, at == 0, row, settings) for at, piece in enumerate(said))


def _word(piece: str, first: bool, row: Row, settings: Settings) -> WordOrigin:
    numbers = settings.profile.program.block_numbers
    if first and numbers.use != "none" and piece.startswith(numbers.letter):
        return block_number(piece, settings)
    form, letter = settings.form, piece[0]
    for at, (key, name) in enumerate(_MOTION):
        if piece == form.motion_codes[at] and at == row.motion:
            repeated = settings.of("words.repeat_motion") if settings.profile.words.repeat_motion else ()
            return WordOrigin(piece, name, settings.of(key) + repeated)
    if row.motion > 1 and piece == form.plane_codes[row.plane]:
        key, plane = _PLANES[row.plane]
        return WordOrigin(piece, f"the arc lies in {plane}", settings.of(key))
    if piece and piece == form.mode_codes[row.feed_mode]:
        return _mode(piece, row, settings)
    if letter == "F":
        return _feed(piece, row, settings)
    for axis in form.axes:
        if axis.letter == letter:
            return _rotary(piece, axis, row, settings) if axis.column == 3 else _linear(piece, axis, row, settings)
    if row.motion > 1 and letter in CENTRE_LETTERS:
        counted = "a step from the arc's start" if settings.profile.arcs.centre_is == "incremental" else "a position"
        exact = _exact(row.centre, CENTRE_LETTERS.index(letter))
        return WordOrigin(
            piece, f"the arc's centre along {'XYZ'[CENTRE_LETTERS.index(letter)]}{exact}, as {counted}",
            settings.of("arcs.form", "arcs.centre_is") + settings.number("length", letter),
        )  # fmt: skip
    if row.motion > 1 and letter == "R":
        return WordOrigin(piece, "the arc's radius, negative above 180 degrees", settings.of("arcs.form") + settings.number("length", "R"))
    return WordOrigin(piece, "no word that planning asks for")


def _exact(place: object, column: int) -> str:
    value = float(place[column]) if isinstance(place, np.ndarray) else float("nan")
    return "" if np.isnan(value) else f" at {value:.6g}"


def _linear(piece: str, axis: AxisWord, row: Row, settings: Settings) -> WordOrigin:
    value = float(row.xyz[axis.column])
    unit = "inch" if settings.form.inch else "mm"
    says = f"to {axis.letter} {_trimmed(value)} {unit} in work coordinates, rounded as a position"
    keys = settings.number("length", axis.letter)
    if settings.end_for_end and axis.column < 2:
        says += f"; the toolpath's {axis.letter} with its sign changed, for the job is turned end for end"
        keys = settings.of("rotary.*.chuck_faces") + keys
    if settings.form.incremental:
        says += ", said as the step from the last written one"
        keys = settings.of("words.distance") + keys
    if axis.letter in settings.form.repeat_axes and abs(value - float(row.before_xyz[axis.column])) < _STILL:
        says += "; it stays, and is repeated"
        keys += settings.of("words.repeat_axes")
    return WordOrigin(piece, says, keys)


def _trimmed(value: float) -> str:
    """Six decimals at most: what was asked before it was rounded."""
    return f"{round(value, 6) + 0.0:.6f}".rstrip("0").rstrip(".")


def _rotary(piece: str, axis: AxisWord, row: Row, settings: Settings) -> WordOrigin:
    """The rotary's word: the commanded angle, its winding, and the mounting that gives it its sign."""
    w = row.w_deg
    turns = int(np.floor(w / 360.0 + 0.5))
    winding = f" ({_trimmed(w - 360.0 * turns)} and {turns:+d} whole turn{'' if abs(turns) == 1 else 's'})" if turns else ""
    phi = settings.sign * w
    hand = "right-hand" if phi >= 0 else "left-hand"
    stands = f"the part stands turned {_trimmed(abs(phi))} degrees {hand} about +{_along(settings)}"
    says = f"the rotary to {_trimmed(w)} degrees{winding}: {stands}"
    keys = settings.of("rotary.*.chuck_faces", "rotary.*.positive_turns_chuck")
    if axis.scale != 1.0:
        says += f", by the drive of {axis.letter}"
        return WordOrigin(
            piece, says, keys + settings.of("rotary.*.replaces", "rotary.*.mm_per_degree") + settings.number("length", axis.letter)
        )
    if axis.turn:
        way = "its sign is the direction" if axis.turning == "sign" else "the controller takes the shortest way"
        says += f"; written as a position within one turn, {way}"
        keys += settings.of("rotary.*.travel.kind", "rotary.*.travel.rule")
    if settings.form.incremental:
        says += "; said as the step from the last written one"
        keys += settings.of("words.distance")
    return WordOrigin(piece, says, keys + settings.number("angle", axis.letter))


def _along(settings: Settings) -> str:
    return settings.rotary.along if settings.rotary is not None else "?"


def _kind_of_move(row: Row) -> tuple[str, str]:
    """Which axes move in a row: the setting that chooses its feed mode, and that in words."""
    way = np.abs(row.xyz - row.before_xyz)
    goes = bool(np.nanmax(np.append(way, 0.0)) > _STILL) or row.motion > 1
    turns = not np.isnan(row.w_deg) and not np.isnan(row.before_w) and abs(row.w_deg - row.before_w) > _STILL
    if goes and turns:
        return "feed.combined", "linear axes and the rotary move together"
    return ("feed.rotary", "the rotary moves alone") if turns else ("feed.linear", "only linear axes move")


def _mode(piece: str, row: Row, settings: Settings) -> WordOrigin:
    key, moves = _kind_of_move(row)
    mode = "inverse time" if row.feed_mode == INVERSE else "feed per minute"
    code = "feed.inverse_code" if row.feed_mode == INVERSE else "feed.per_minute_code"
    return WordOrigin(piece, f"{mode}, because {moves} in this block", settings.of(code, key))


def _feed(piece: str, row: Row, settings: Settings) -> WordOrigin:
    if row.motion == RAPID:
        return WordOrigin(piece, "a feed")
    feed, (key, moves) = settings.profile.feed, _kind_of_move(row)
    keys: tuple[Setting, ...] = settings.of(key)
    if row.feed_mode == INVERSE:
        unit = {"per_minute": "1 over minutes", "per_second": "1 over seconds", "seconds": "seconds"}[feed.inverse_is]
        says = f"F {row.feed:.6g} exactly: the time of this block, as {unit}, so that the tip has its feed"
        return WordOrigin(piece, says, keys + settings.of("feed.inverse_is") + settings.number("inverse_feed", "F"))
    if key == "feed.linear" or feed.per_minute_counts == "tip":
        says = f"F {row.feed:.6g} exactly: the speed of the tip per minute"
    else:
        counts = "X, Y and Z alone" if feed.per_minute_counts == "linear_axes" else "all axes, a degree as a length unit"
        says = f"F {row.feed:.6g} exactly: {moves}, and F counts {counts}; the tip has its feed"
        keys += settings.of("feed.per_minute_counts")
    return WordOrigin(piece, says, keys + settings.number("feed", "F"))
