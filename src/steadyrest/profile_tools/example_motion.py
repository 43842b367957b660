"""What an example does, block by block, as far as it can be followed without knowing its dialect."""

from __future__ import annotations

from dataclasses import dataclass, field

from steadyrest.profile_tools.example_lines import Example, Line

MOTIONS = {"G0": "rapid", "G1": "line", "G2": "arc", "G3": "arc"}
CYCLES = ("G73", "G74", "G81", "G82", "G83", "G84", "G85", "G86", "G87", "G88", "G89")
PLANES = {"G17": "XY", "G18": "XZ", "G19": "YZ"}
CENTRES = {"XY": "IJ", "XZ": "IK", "YZ": "JK"}
LOST = ("G28", "G30", "G53", "G92", "G10", "G43", "G49", "M6")
"""After these a position is no longer what the program said last."""

AXES = "XYZABC"


@dataclass(frozen=True, slots=True)
class Move:
    """A block that moves.

    kind      "rapid", "line", "arc", "cycle", or "clear": to machine coordinates or the reference point
    stated    the motion code stands in the block
    before    where the axes stand before it, by letter; those not known are left out
    after     the same after it
    plane     "XY", "XZ", "YZ"
    inverse   F is in inverse time
    follows   the line before this one was a move as well, with nothing between
    """

    line: Line
    kind: str
    code: str
    stated: bool
    before: dict[str, float]
    after: dict[str, float]
    plane: str
    inverse: bool
    incremental: bool
    follows: bool


@dataclass(slots=True)
class _State:
    places: dict[str, float] = field(default_factory=dict)
    motion: str = ""
    plane: str = "XY"
    inverse: bool = False
    incremental: bool = False


def moves_of(example: Example) -> tuple[Move, ...]:
    """The blocks that move, in the order of the program. In steps, places count from wherever the program begins."""
    state = _State()
    moves: list[Move] = []
    last = 0
    for line in example.lines:
        if not line.is_block:
            continue
        _take_codes(line, state)
        axes = {word.letter: word.value for word in line.words if word.letter in AXES}
        clears = line.has("G28", "G30", "G53")
        stated = next((code for code in line.codes() if code in MOTIONS or code in CYCLES), "")
        if line.has("G4", "G10", "G92") or not axes or (not state.motion and not clears):
            _lose(line, state, clears)
            continue
        before = dict(state.places)
        for letter, value in axes.items():
            state.places[letter] = state.places.get(letter, 0.0) + value if state.incremental else value
        kind = "clear" if clears else "cycle" if state.motion in CYCLES else MOTIONS.get(state.motion, "")
        if kind == "cycle":
            state.places.pop("Z", None)
        moves.append(
            Move(
                line,
                kind,
                state.motion,
                bool(stated),
                before,
                dict(state.places),
                state.plane,
                state.inverse,
                state.incremental,
                last == line.number - 1,
            )
        )
        last = line.number
        _lose(line, state, clears)
    return tuple(moves)


def _take_codes(line: Line, state: _State) -> None:
    for code in line.codes():
        if code in MOTIONS or code in CYCLES:
            state.motion = code
        elif code == "G80":
            state.motion = ""
        elif code in PLANES:
            state.plane = PLANES[code]
        elif code in ("G90", "G91"):
            state.incremental = code == "G91"
        elif code in ("G93", "G94"):
            state.inverse = code == "G93"


def _lose(line: Line, state: _State, clears: bool) -> None:
    if clears:
        for letter in [word.letter for word in line.words if word.letter in AXES]:
            state.places.pop(letter, None)
    elif line.has(*LOST):
        state.places.clear()
