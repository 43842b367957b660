"""The rotary as it is mounted: how it stands on the table and which way it turns, in words, and drawn from three sides.

Everything that turns is turned by the rotation matrix and then projected.
A view is two directions of the machine: what goes to the right on the paper and what goes up. Nothing else decides how it looks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats
from steadyrest.profile import Rotary
from steadyrest.sheet.tools import of_part

AXES: dict[str, Floats] = {
    sign + letter: (1.0 if sign == "+" else -1.0) * np.eye(3)[column] for column, letter in enumerate("XYZ") for sign in "+-"
}
SEEN = {"upright": ("+Z", "-Y"), "horizontal": ("+Y", "+Z")}
"""How the spindle stands: the directions of the machine that go up and towards the operator; X goes to the right (ISO 841, from memory:
with a horizontal spindle +X goes to the right when one looks from the spindle to the part)."""
SPINDLE = AXES["+Z"]
"""From the part to the spindle, however it stands."""

BODY, CHUCK, BAR = (-62.0, -20.0, 34.0), (-20.0, 0.0, 27.0), (0.0, 92.0, 15.0)
"""From, to along the direction in which the chuck faces, and half the size across."""
SWEEP_DEG = 50.0
WIDTH, HEIGHT = 250.0, 220.0


@dataclass(frozen=True, slots=True)
class View:
    """title, and the directions of the machine that go right and up on the paper, such as +X and +Z."""

    title: str
    right: str
    up: str

    def flat(self, points: Floats) -> Floats:
        """(n, 3) to (n, 2): right and up."""
        return points @ np.column_stack([AXES[self.right], AXES[self.up]])

    @property
    def towards(self) -> Floats:
        """The direction from the paper to whoever looks: right x up."""
        return np.cross(AXES[self.right], AXES[self.up])


@dataclass(frozen=True, slots=True)
class Drawing:
    """A view and its picture."""

    view: View
    svg: str


def views(chuck_faces: str, stands: str = "upright") -> tuple[View, ...]:
    """As the operator stands, from above, and looking at the face of the chuck; each direction once. `stands`: as in SEEN."""
    high, near = SEEN[stands]
    away = ("-" if near[0] == "+" else "+") + near[1]
    front = View("as you stand in front of the machine", "+X", high)
    above = View("from above, you stand below the picture", "+X", away)
    up = high if chuck_faces[1] != high[1] else away
    right = next(name for name, way in AXES.items() if np.allclose(way, np.cross(AXES[up], AXES[chuck_faces])))
    face = View("looking at the face of the chuck", right, up)
    for one in (front, above):
        if (one.right, one.up) == (face.right, face.up):
            both = View(f"{one.title}: you look at the face of the chuck", one.right, one.up)
            return tuple(both if each is one else each for each in (front, above))
    return front, above, face


def turn_path(view: View, chuck_faces: str, sense: int) -> Floats:
    """The way of a point of the part under a small positive command, on the paper, right and up (n, 2).

    sense    +1 where a positive command turns the part right-hand about the + direction of its axis, else -1
    Seen along the axis it is an arc round the chuck from its top; seen across, the way of the side that looks at you.
    """
    faces = AXES[chuck_faces]
    if abs(float(view.towards @ faces)) > 0.5:
        start, along = AXES[view.up] * (CHUCK[2] + 14), faces * BAR[1]
    else:
        start, along = view.towards * (BAR[2] + 8), faces * 58.0
    angles = np.radians(np.linspace(-SWEEP_DEG, SWEEP_DEG, 25))[:, None] * sense
    aside = np.cross(AXES["+" + chuck_faces[1]], start)
    return view.flat(start * np.cos(angles) + aside * np.sin(angles) + along)  # Rodrigues' rotation of a point square to the axis


def mounting_drawings(word: str, chuck_faces: str, sense: int, stands: str = "upright") -> tuple[Drawing, ...]:
    """The pictures of a mounting as SVG, black on white, without anything from outside.

    word     the letter that the command and the display have
    sense    +1 where a positive word turns the part right-hand about the + direction of its axis, else -1
    """
    return tuple(Drawing(view, _svg(view, word, chuck_faces, sense, AXES[SEEN[stands][1]])) for view in views(chuck_faces, stands))


def _svg(view: View, word: str, chuck_faces: str, sense: int, operator: Floats) -> str:
    faces = AXES[chuck_faces]
    depth = float(view.towards @ faces)
    middle = np.zeros(2) if abs(depth) > 0.5 else view.flat(faces[None, :])[0] * 15
    parts = [_solid(view, faces, part, depth, kind) for part, kind in ((BODY, "body"), (CHUCK, "chuck"), (BAR, "bar"))]
    if depth < -0.5:  # the chuck looks away: the body hides it, so it is drawn dashed on top
        parts = [parts[0], parts[1].replace('class="chuck"', 'class="hidden"'), parts[2].replace('class="bar"', 'class="hidden"')]
    if abs(depth) < 0.5:
        parts.append(_jaws(view, faces))
    parts += [_arrow(turn_path(view, chuck_faces, sense), f"+{word}"), _spindle(view, faces)]
    shift = f"translate({WIDTH / 2 - middle[0]:.1f} {HEIGHT / 2 + 6 + middle[1]:.1f})"
    return (
        f'<svg class="mounting" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-label="{view.title}">'
        f'<g transform="{shift}">{"".join(parts)}</g>{_operator(view, operator)}{_corner(view)}</svg>'
    )


def _along(view: View, way: Floats) -> tuple[Floats, Floats]:
    """A direction on the paper, and the one to its left."""
    flat = view.flat(way[None, :])[0]
    return flat, np.array([-flat[1], flat[0]])


def _rectangle(kind: str, corner: Floats, opposite: Floats) -> str:
    (left, bottom), (width, height) = np.minimum(corner, opposite), np.abs(opposite - corner)
    return f'<rect class="{kind}" x="{left:.1f}" y="{-(bottom + height):.1f}" width="{width:.1f}" height="{height:.1f}"/>'


def _points(points: Iterable[Floats]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def _solid(view: View, faces: Floats, part: tuple[float, float, float], depth: float, kind: str) -> str:
    low, high, half = part
    if abs(depth) > 0.5 and kind == "body":
        return _rectangle(kind, np.full(2, -half), np.full(2, half))
    if abs(depth) > 0.5:
        return f'<circle class="{kind}" cx="0" cy="0" r="{half:g}"/>'
    way, across = _along(view, faces)
    return _rectangle(kind, way * low + across * half, way * high - across * half)


def _jaws(view: View, faces: Floats) -> str:
    way, across = _along(view, faces)
    return "".join(_rectangle("jaw", across * side * BAR[2], way * 12 + across * side * (BAR[2] + 9)) for side in (1, -1))


def _arrow(path: Floats, label: str) -> str:
    down = np.array([1.0, -1.0])
    tip, way = path[-1], path[-1] - path[-3]
    way = way / np.hypot(*way)
    across = np.array([-way[1], way[0]])
    head = np.array([tip + way * 9, tip - way * 4 + across * 6, tip - way * 4 - across * 6])
    straight = float(np.ptp(path, axis=0).min()) < 1
    beside = path[0] + (-way * 12 if straight else path[0] / np.hypot(*path[0]) * 15)  # an arc is drawn round the middle of the picture
    text = f'<text class="turn" x="{beside[0]:.1f}" y="{-beside[1] + 5:.1f}" text-anchor="middle">{label}</text>'
    return f'<polyline class="turn" points="{_points(path * down)}"/><polygon class="head" points="{_points(head * down)}"/>{text}'


def _spindle(view: View, faces: Floats) -> str:
    """The tool over the part, where the spindle's axis lies in the paper."""
    way, across = _along(view, SPINDLE)
    if np.hypot(*way) < 0.5:
        return ""
    beside = np.zeros(2) if abs(float(SPINDLE @ faces)) > 0.5 else _along(view, faces * 78)[0]
    low = BAR[2] + 14 if abs(faces[2]) < 0.5 else (BAR[1] if faces[2] > 0 else -BODY[0]) + 6
    if abs(float(view.towards @ faces)) > 0.5:
        low = CHUCK[2] + 26
    parts = ((low, low + 18, 3), (low + 18, low + 26, 8))
    return "".join(
        _rectangle("tool", beside + way * begin + across * half, beside + way * end - across * half) for begin, end, half in parts
    )


def _operator(view: View, operator: Floats) -> str:
    way, _ = _along(view, operator)
    if np.hypot(*way) < 0.5:
        return ""
    x, y = WIDTH / 2 + way[0] * (WIDTH / 2 - 22), HEIGHT / 2 - way[1] * (HEIGHT / 2 - 10)
    return f'<text class="you" x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle">you</text>'


def _corner(view: View) -> str:
    """The two directions of the machine on the paper, as they are, + end at the head."""
    out = []
    begin = np.array([46.0, HEIGHT - 16.0])
    for said, way in ((view.right, np.array([1.0, 0.0])), (view.up, np.array([0.0, -1.0]))):
        flat = way if said[0] == "+" else -way
        end, across = begin + flat * 20, np.array([-flat[1], flat[0]])
        text = end + flat * 12
        out.append(
            f'<line class="axis" x1="{begin[0]:.1f}" y1="{begin[1]:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}"/>'
            f'<polygon class="head" points="{_points([end + flat * 6, end + across * 3, end - across * 3])}"/>'
            f'<text class="axis" x="{text[0]:.1f}" y="{text[1] + 4:.1f}" text-anchor="middle">{said[1]}</text>'
        )
    return "".join(out)


@dataclass(frozen=True, slots=True)
class MountingFacts:
    """The rotary as the program takes it to stand."""

    letter: str
    sentences: tuple[str, ...]
    drawings: tuple[Drawing, ...]


_BESIDE = {
    "+X": "at the left end of the table: its chuck faces to the right",
    "-X": "at the right end of the table: its chuck faces to the left",
}
_STANDS = {
    "upright": {
        **_BESIDE,
        "+Y": "at the near end of the table: its chuck faces away from you",
        "-Y": "at the far end of the table: its chuck faces towards you",
        "+Z": "upright: its chuck faces up, towards the spindle",
        "-Z": "upside down: its chuck faces away from the spindle",
    },
    "horizontal": {
        **_BESIDE,
        "+Y": "upright: its chuck faces up",
        "-Y": "upside down: its chuck faces down",
        "+Z": "at the far end of the table: its chuck faces towards you and the spindle",
        "-Z": "at the near end of the table: its chuck faces away from the spindle",
    },
}
_GOES = {
    "upright": {
        "X": ("the top of the part towards you", "the top of the part away from you"),
        "Y": ("the top of the part to the right", "the top of the part to the left"),
        "Z": ("the side nearest to you to the right", "the side nearest to you to the left"),
    },
    "horizontal": {
        "X": ("the side nearest to you down", "the side nearest to you up"),
        "Y": ("the side nearest to you to the right", "the side nearest to you to the left"),
        "Z": ("the top of the part to the left", "the top of the part to the right"),
    },
}
"""By how the spindle stands and the axis of rotation: what a right-hand turn does, and what a left-hand turn does. With an upright spindle
+Z is up and -Y towards the operator, with a horizontal one +Y is up and +Z towards the operator; the rotation matrices say the rest."""


def mounting_facts(letter: str, rotary: Rotary, stands: str, units: str) -> MountingFacts:
    """The rotary in words and drawings, by the word that the display shows. `stands`: as the spindle does; `units`: the part's."""
    word = rotary.word_letter(letter)
    # A positive word turns the part right-hand about the + direction of its axis (design, frames and signs), or not.
    sense = 1 if rotary.chuck_faces.startswith("+") == (rotary.positive_word_turns_chuck == "counterclockwise") else -1
    sentences = [
        f"rotary {letter} along {rotary.along}, {_STANDS[stands][rotary.chuck_faces]} ({rotary.chuck_faces})",
        f"{word}+ turns the chuck {rotary.positive_word_turns_chuck}, looking at its face",
        f"so {word}+ moves {_GOES[stands][rotary.along][0 if sense == 1 else 1]}",
    ]
    if rotary.replaces:
        turn = of_part(360 * abs(rotary.mm_per_degree), units)
        sentences.append(f"the {word} drive turns it: the display shows {word}, {turn} {units} for a full turn")
    if rotary.clamp.use == "indexing":
        sentences.append(f"clamped for indexed cuts: {rotary.clamp.on} on, {rotary.clamp.off} off")
    else:
        sentences.append("the program does not clamp it: only its drive holds the part")
    return MountingFacts(letter, tuple(sentences), mounting_drawings(word, rotary.chuck_faces, sense, stands))
