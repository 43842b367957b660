"""The rotary as it is mounted: how it stands on the table and which way it turns, in words, and drawn from three sides.

Everything that turns is turned by the rotation matrix and then projected.
A view is two directions of the machine: what goes to the right on the paper and what goes up. Nothing else decides how it looks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from steadyrest.columns import Floats
from steadyrest.profile import Rotary
from steadyrest.reading import sigma
from steadyrest.sheet.tools import of_part

AXES: dict[str, Floats] = {
    sign + letter: (1.0 if sign == "+" else -1.0) * np.eye(3)[column] for column, letter in enumerate("XYZ") for sign in "+-"
}
SEEN = {"upright": ("+Z", "-Y"), "horizontal": ("+Y", "+Z")}
"""How the spindle stands: the directions of the machine that go up and towards the operator; X goes to the right (ISO 841, from memory:
with a horizontal spindle +X goes to the right when one looks from the spindle to the part)."""
SPINDLE = AXES["+Z"]
"""From the part to the spindle, however it stands."""

TABLE = (232.0, 100.0)
"""Of the table as it is drawn from above: how long, and how deep; it is longer in X (common practice)."""
BODY, CHUCK, BAR = (-62.0, -20.0, 34.0), (-20.0, 0.0, 27.0), (0.0, 92.0, 15.0)
"""From, to along the direction in which the chuck faces, and half the size across."""
SWEEP_DEG = 50.0
WIDTH, HEIGHT = 250.0, 220.0
CLOSE = "50 44 150 132"
"""What is seen of that where a chuck is drawn alone."""


@dataclass(frozen=True, slots=True)
class View:
    """title, and the directions of the machine that go right and up on the paper, such as +X and +Z."""

    title: str
    right: str
    up: str

    def flat(self, points: Floats) -> Floats:
        """(..., 3) to (..., 2): right and up."""
        return points @ np.column_stack([AXES[self.right], AXES[self.up]])

    def along(self, way: Floats) -> tuple[Floats, Floats]:
        """A direction on the paper, and the one to its left; without length where it points at whoever looks, or away."""
        flat = self.flat(way)
        return flat, np.array([-flat[1], flat[0]])

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
    known = {(one.right, one.up): one for one in (front, above)}
    if one := known.get((face.right, face.up)):
        known[one.right, one.up] = replace(one, title=f"{one.title}: you look at the face of the chuck")
        return tuple(known.values())
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
    return view.flat(swept(start, AXES["+" + chuck_faces[1]], sense) + along)


def swept(start: Floats, way: Floats, sense: int) -> Floats:
    """The arc (n, 3) of a point square to an axis, about it: right-hand with a sense of +1 (Rodrigues' rotation)."""
    angles = np.radians(np.linspace(-SWEEP_DEG, SWEEP_DEG, 25))[:, None] * sense
    return np.asarray(start * np.cos(angles) + np.cross(way, start) * np.sin(angles))


def mounting_drawings(word: str, chuck_faces: str, sense: int | None, stands: str = "upright") -> tuple[Drawing, ...]:
    """The pictures of a mounting as SVG, black on white, without anything from outside.

    word     the letter that the command and the display have
    sense    +1 where a positive word turns the part right-hand about the + direction of its axis, else -1; None: not known, no arrow
    """
    return tuple(
        Drawing(view, _svg(view, chuck_faces, stands, _turning(view, word, chuck_faces, sense))) for view in views(chuck_faces, stands)
    )


def _turning(view: View, word: str, chuck_faces: str, sense: int | None) -> str:
    return arrow(turn_path(view, chuck_faces, sense), f"+{word}") if sense is not None else ""


def standing_drawing(chuck_faces: str, stands: str = "upright") -> Drawing:
    """Where a rotary stands and which way its chuck faces, without a word about turning: from the side on which that is seen best."""
    view = next(each for each in reversed(views(chuck_faces, stands)[:2]) if each.along(AXES[chuck_faces])[0].any())
    return Drawing(view, _svg(view, chuck_faces, stands, ""))


def chuck_drawing(word: str, turns: str | None) -> Drawing:
    """The face of a chuck, however it stands, and which way a positive word turns it: `clockwise`, `counterclockwise`; None: not known."""
    view = View("looking at the face of the chuck", "+X", "+Y")
    sense = {"counterclockwise": 1, "clockwise": -1, None: None}[turns]
    unknown = f'<text class="turn" x="0" y="{-CHUCK[2] - 16:g}" text-anchor="middle">+{word} ?</text>'
    title = f"{view.title}: a positive {word} turns it {turns or 'in a way that is not known yet'}"
    inner = "".join(_from_its_end(("chuck", "bar"))) + (unknown if sense is None else _turning(view, word, "+Z", sense))
    return Drawing(view, picture(title, WIDTH / 2, HEIGHT / 2, inner, box=CLOSE))


def moving_drawing(chuck_faces: str, way: str, stands: str = "upright") -> Drawing:
    """Which way a place of the part's surface went: the rotary, with an arrow over its bar.

    way   the direction of the machine, such as -Y
    """
    watched = AXES["+Z"] if chuck_faces[1] != "Z" else AXES[SEEN[stands][1] if stands == "upright" else SEEN[stands][0]]
    seen = [each for each in views(chuck_faces, stands) if each.flat(AXES[way]).any()]
    view = max(seen, key=lambda each: float(each.towards @ watched))
    flat = view.flat(AXES[way])
    middle = view.flat(AXES[chuck_faces]) * (BAR[1] / 2)
    path = np.array([middle + flat * step for step in np.linspace(-30, 24, 4)])
    return Drawing(view, _svg(view, chuck_faces, stands, arrow(path, "")))


def _svg(view: View, chuck_faces: str, stands: str, turning: str) -> str:
    faces, (high, near) = AXES[chuck_faces], SEEN[stands]
    depth = float(view.towards @ faces)
    way, across = view.along(faces)
    bar = BAR[2]
    if abs(depth) > 0.5:
        # A chuck that looks away is hidden by the body, so it is drawn dashed on top.
        kinds = ("chuck", "bar") if depth > 0 else ("hidden", "hidden")
        parts = _from_its_end(kinds)
    else:
        solids = (("body", *BODY), ("chuck", *CHUCK), ("bar", *BAR))
        parts = [_rectangle(kind, way * low + across * half, way * high - across * half) for kind, low, high, half in solids]
        parts += [_rectangle("jaw", across * side * bar, way * 12 + across * side * (bar + 9)) for side in (1, -1)]
    if view.towards @ AXES[high] > 0.5:
        parts.insert(0, _table(way))
    parts += [turning, _spindle(view, faces)]
    x, y = WIDTH / 2 - way[0] * 15, HEIGHT / 2 + 6 + way[1] * 15
    return picture(view.title, x, y, "".join(parts), f"{operator(view, AXES[near])}{corner(view)}")


def picture(title: str, x: float, y: float, inner: str, around: str = "", box: str = f"0 0 {WIDTH:g} {HEIGHT:g}") -> str:
    """A drawing of its own: `inner` with its zero at x, y, and what stands around it in the picture's own places."""
    return (
        f'<svg class="mounting" viewBox="{box}" role="img" aria-label="{title}">'
        f'<g transform="translate({x:.1f} {y:.1f})">{inner}</g>{around}</svg>'
    )


def _from_its_end(kinds: tuple[str, str]) -> list[str]:
    """The rotary as one looks along its axis; `kinds` of chuck and bar."""
    body = BODY[2]
    circles = [f'<circle class="{kind}" cx="0" cy="0" r="{half:g}"/>' for kind, half in zip(kinds, (CHUCK[2], BAR[2]), strict=True)]
    return [_rectangle("body", np.full(2, -body), np.full(2, body)), *circles]


def _table(way: Floats) -> str:
    """The table under it, seen from above; `way`: that of the chuck on the paper."""
    half = np.array(TABLE) / 2
    if abs(way[1]) > 0.5:  # a rotary across the table: a part of the table as deep as it
        half, middle = np.array([75.0, 86.0]), np.array([32.0, way[1] * 15])
    else:
        middle = way * 15
    return _rectangle("table", middle - half, middle + half)


def _rectangle(kind: str, corner: Floats, opposite: Floats) -> str:
    (left, bottom), (width, height) = np.minimum(corner, opposite), np.abs(opposite - corner)
    return f'<rect class="{kind}" x="{left:.1f}" y="{-(bottom + height):.1f}" width="{width:.1f}" height="{height:.1f}"/>'


def polygon(kind: str, corners: Floats) -> str:
    """Of corners (n, 2), right and up."""
    return f'<polygon class="{kind}" points="{_points(corners * (1, -1))}"/>'


def _points(points: Iterable[Floats]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def arrow(path: Floats, label: str, beside: Floats | None = None) -> str:
    """A path (n, 2), right and up, with its head at the end and its label at `beside`, by default before it begins."""
    tip, way = path[-1], path[-1] - path[-3]
    way = way / np.hypot(*way)
    across = np.array([-way[1], way[0]])
    head = np.array([tip + way * 9, tip - way * 4 + across * 6, tip - way * 4 - across * 6])
    straight = float(np.ptp(path, axis=0).min()) < 1
    if beside is None:
        beside = path[0] + (-way * 12 if straight else path[0] / np.hypot(*path[0]) * 21)  # an arc is drawn round the middle of the picture
    text = f'<text class="turn" x="{beside[0]:.1f}" y="{-beside[1] + 5:.1f}" text-anchor="middle">{label}</text>' if label else ""
    return f'<polyline class="turn" points="{_points(path * (1, -1))}"/>{polygon("head", head)}{text}'


def _spindle(view: View, faces: Floats) -> str:
    """The tool over the part, where the spindle's axis lies in the paper."""
    way, across = view.along(SPINDLE)
    if not way.any():
        return ""
    beside, low = view.flat(faces) * 78, BAR[2] + 14
    if not beside.any():
        low = CHUCK[2] + 26
    elif faces[2]:
        beside, low = np.zeros(2), (BAR[1] if faces[2] > 0 else -BODY[0]) + 6
    parts = ((low, low + 18, 3), (low + 18, low + 26, 8))
    places = [(beside + way * begin + across * half, beside + way * end - across * half) for begin, end, half in parts]
    return "".join(_rectangle("tool", *corners) for corners in places)


def operator(view: View, near: Floats, wide: float = WIDTH, tall: float = HEIGHT) -> str:
    """Where whoever stands in front of the machine is, in a picture of that size; `near`: the direction to them."""
    way = view.flat(near)
    if not way.any():
        return ""
    x, y = wide / 2 + way[0] * (wide / 2 - 22), tall / 2 - way[1] * (tall / 2 - 10)
    return f'<text class="you" x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle">you</text>'


def corner(view: View, tall: float = HEIGHT) -> str:
    """The two directions of the machine on the paper, as they are, + end at the head."""
    out = []
    begin = np.array([46.0, tall - 16.0])
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


def standing_words(chuck_faces: str, stands: str = "upright") -> str:
    """Where a rotary stands whose chuck faces that way, for whoever stands in front of the machine."""
    return _STANDS[stands][chuck_faces]


def _goes(along: str, sense: int, stands: str) -> str:
    """What a small turn about an axis does: to the side of the part that looks at the spindle, or along Z to the other one that is seen."""
    high, near = SEEN[stands]
    sides = {high: "the top of the part", near: "the side nearest to you"}
    side = "+Z" if along != "Z" else next(name for name in sides if name[1] != "Z")
    words = {high: "up", near: "towards you", "+X": "to the right"}, {high: "down", near: "away from you", "+X": "to the left"}
    way = sense * np.cross(AXES["+" + along], AXES[side])
    name, forth = next((name, float(way @ AXES[name])) for name in words[0] if way @ AXES[name])
    return f"{sides[side]} {words[forth < 0][name]}"


def mounting_facts(letter: str, rotary: Rotary, stands: str, units: str) -> MountingFacts:
    """The rotary in words and drawings, by the word that the display shows. `stands`: as the spindle does; `units`: the part's."""
    word = rotary.word_letter(letter)
    sense = sigma(rotary.chuck_faces, rotary.positive_word_turns_chuck)
    sentences = [
        f"rotary {letter} along {rotary.along}, {standing_words(rotary.chuck_faces, stands)} ({rotary.chuck_faces})",
        f"{word}+ turns the chuck {rotary.positive_word_turns_chuck}, looking at its face",
        f"so {word}+ moves {_goes(rotary.along, sense, stands)}",
    ]
    if rotary.replaces:
        turn = of_part(360 * abs(rotary.mm_per_degree), units)
        sentences.append(f"the {word} drive turns it: the display shows {word}, {turn} {units} for a full turn")
    if rotary.clamp.use == "indexing":
        sentences.append(f"clamped for indexed cuts: {rotary.clamp.on} on, {rotary.clamp.off} off")
    else:
        sentences.append("the program does not clamp it: only its drive holds the part")
    return MountingFacts(letter, tuple(sentences), mounting_drawings(word, rotary.chuck_faces, sense, stands))
