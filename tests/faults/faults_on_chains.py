"""Faults that only two rotaries or a head can have, each planted in a program by hand, with the rule that should refuse it.

The programs are written word by word by `chain_programs`: two planes and a bowl, C on A and a leaning B in the table, and heads.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np

from chain_programs import (
    C_ON_A,
    GAUGE,
    HEAD_AND_TABLE,
    LEANING,
    MOVES,
    PLANES,
    TWO_IN_HEAD,
    Written,
    bowl,
    machine,
    part,
    planes,
    turning,
    verdict,
    written,
)
from steadyrest.columns import Floats
from steadyrest.motion import plan
from steadyrest.profile import Profile, shared_templates_folder
from steadyrest.proof import Verdict
from steadyrest.toolpath import Toolpath
from steadyrest.writing import write_program

Fault = Callable[[], Verdict]
BOWL = bowl(200)
CUT = 120
"""The block of the bowl that is spoiled."""


def _by(toolpath: Toolpath, meant: dict[str, Any], made: dict[str, Any] | None = None, **options: Any) -> Verdict:
    """A program made for one machine, or from another toolpath, judged for the one that is meant."""
    source = options.pop("source", toolpath)
    profile = machine(meant)
    maker = written(source, machine(made or meant), **options)
    return verdict(maker.program(), toolpath, profile, gauge_lengths=GAUGE)


def _spoiled(
    change: Callable[[Floats], Floats], *, only: bool = True, toolpath: Toolpath = BOWL, chain: dict[str, Any] = C_ON_A
) -> Verdict:
    """One block that cuts, or all from there on, with other words."""

    def changed(number: int, words: Floats) -> Floats:
        return change(words.copy()) if (number == CUT if only else number >= CUT) else words

    return _by(toolpath, chain, change=changed)


def _added(at: int, step: float) -> Callable[[Floats], Floats]:
    def change(words: Floats) -> Floats:
        words[at] += step
        return words

    return change


def _text(change: Callable[[list[str]], list[str]], toolpath: Toolpath, chain: dict[str, Any] = C_ON_A) -> Verdict:
    """The lines of a program changed."""
    profile = machine(chain)
    maker = written(toolpath, profile)
    maker.text = change(maker.text)
    return verdict(maker.program(), toolpath, profile, gauge_lengths=GAUGE)


def _rotary(chain: dict[str, Any], letter: str, **settings: Any) -> dict[str, Any]:
    return {**chain, "rotary": {**chain["rotary"], letter: {**chain["rotary"][letter], **settings}}}


def _replaced(old: str, new: str, which: int = 0) -> Callable[[list[str]], list[str]]:
    """The line, of those that match, with a change by pattern."""

    def change(lines: list[str]) -> list[str]:
        at = [number for number, line in enumerate(lines) if re.search(old, line)][which]
        return [*lines[:at], *([re.sub(old, new, lines[at], count=1)] if new else []), *lines[at + 1 :]]

    return change


def _other_solution_within_a_cut() -> Verdict:
    one, other = written(BOWL, which=0), written(BOWL, which=1)
    cuts = [at for at, line in enumerate(one.text) if line.startswith("G93")]
    one.text = one.text[: cuts[CUT]] + other.text[cuts[CUT] :]
    return verdict(one.program(), BOWL)


def _plane(which: int, **changes: Any) -> list[dict[str, Any]]:
    return [{**plane, **changes} if number == which else plane for number, plane in enumerate(PLANES)]


def _aside_at_the_pole(lean: float) -> Verdict:
    """A pass right over the pole, made with a tool axis that leans aside of it."""

    def path(aside: float) -> Toolpath:
        moves = []
        for x in np.linspace(-10, 10, 201):
            axis = np.array([np.radians(0.3 * x), np.radians(aside) * (1 - (x / 10) ** 2), 1.0])
            moves.append({"cut": [x, 0, 41], "tool_axis": (axis / np.linalg.norm(axis)).tolist(), "feed": 300})
        return part([{"rotary": {"intent": "simultaneous"}, "moves": moves}])

    return _by(path(0.0), C_ON_A, source=path(lean))


def _re_oriented(target: int) -> Verdict:
    """Out of the cut at one of its points, over to the other solution, and back to a point of the path."""
    one, other = written(BOWL, which=0), written(BOWL, which=1)
    run: Any = next(BOWL.operations[0].stream())
    cuts = [at for at, line in enumerate(one.text) if line.startswith("G93")]
    link = Written(machine(), np.array(BOWL.centre, dtype=float), which=1)
    link.link(run.end[target], run.tool_axis[target])
    down = f"G94 G1 {link.say(link.words_of(run.end[target], run.tool_axis[target]), 'XYZ')} F600"
    one.text = [*one.text[: cuts[CUT]], *link.text, down, *other.text[cuts[CUT] :]]
    return verdict(one.program(), BOWL)


def withdrawn(out: float = 60.0, aside: float = 0.0, back: int = CUT, down: float = 600.0) -> Verdict:
    """A head leaves the cut at feed along the leaning tool, turns to the other solution at the machine's zero, and comes back along it.

    out, aside   how far it leaves along the tool, and beside it, mm
    back, down   the point of the cut that it comes back to, and the feed of the last 5 mm
    """
    profile = machine(HEAD_AND_TABLE)
    one, other = written(BOWL, profile, which=0), written(BOWL, profile, which=1)
    run: Any = next(BOWL.operations[0].stream())
    at = [number for number, line in enumerate(one.text) if line.startswith("G93")][CUT]
    (tip, axis), (home, along) = ((run.end[point], run.tool_axis[point]) for point in (CUT, back))
    link = Written(profile, np.array(BOWL.centre, dtype=float), which=1, words=other.words)
    left = one.say(one.words_of(tip + out * axis + [aside, 0, 0], axis), "XYZ")
    link.link(home, along)
    near, there = (link.say(link.words_of(home + above * along, along), "XYZ") for above in (5.0, 0.0))
    way = [f"G94 G1 {left} F4000", *link.text, f"G1 {near} F4000", f"G1 {there} F{down:g}"]
    one.text = [*one.text[:at], *way, *other.text[at:]]
    return verdict(one.program(), BOWL, profile, gauge_lengths=GAUGE)


def at_the_tip(change: Callable[[list[str]], list[str]], chain: dict[str, Any], **options: Any) -> Verdict:
    """A program in which F is the speed of the tip also where rotaries turn, its lines changed."""
    profile = machine(chain, feed={"per_minute_counts": "tip"}, linear={axis: {"fastest": 90000} for axis in "XYZ"})
    maker = written(BOWL, profile, tip_feed=True, **options)
    maker.text = change(maker.text)
    return verdict(maker.program(), BOWL, profile, gauge_lengths=GAUGE)


def with_arcs(change: Callable[[str], str]) -> Verdict:
    """A program as it is planned, its text changed: arcs in a plane in which a head lays the tool along X, so that they lie across it."""
    moves = [*MOVES[:4], {"arc": [8, 8, -1], "centre": [8, 4, -1], "turns": "counterclockwise", "feed": 400}, {"rapid": [8, 8, 60]}]
    toolpath, profile = planes(moves, [{"origin": [20, 0, 30], "z": [1, 0, 0], "x": [0, 1, 0]}]), machine(TWO_IN_HEAD, stops={"end": "M30"})
    planned = plan(toolpath, profile, gauge_lengths=GAUGE)
    lines = write_program(planned.items, profile, [shared_templates_folder()], inch=planned.inch, rotary_letters=planned.letters)
    return verdict(change(b"".join(lines).decode("ascii")), toolpath, profile, gauge_lengths=GAUGE)


BULGES = "Y4 Z-268.26 F500\nY8 Z-268.31\n"
"""In place of a straight line to Y8 at Z-268.31."""


def _clamped(change: Callable[[list[str]], list[str]]) -> Verdict:
    """Two clamps with codes of their own, released before and put on after each turn."""
    clamps = {"C": ("M10", "M11"), "A": ("M12", "M13")}
    chain: dict[str, Any] = C_ON_A
    for letter, (on, off) in clamps.items():
        chain = _rotary(chain, letter, clamp={"use": "indexing", "on": on, "off": off})
    profile, toolpath = machine(chain), planes()
    maker = written(toolpath, profile)
    text: list[str] = []
    for line in maker.text:
        text += ["M11", "M13", line, "M10", "M12"] if line.startswith("G0 C") else [line]
    maker.text = change(text)
    return verdict(maker.program(), toolpath, profile)


def _hole(change: Callable[[list[str]], list[str]]) -> Verdict:
    """A hole drilled in both planes by single moves."""
    toolpath = planes([{"rapid": [0, 0, 60]}, {"hole": [3, 2], "cycle": "peck", "peck": 6, "retract": 2, "bottom": -8, "feed": 120}])
    maker = Written(machine(), np.array(toolpath.centre, dtype=float))
    for plane in toolpath.operations[0].rotary.planes:  # type: ignore[union-attr]
        places = [(0, 0, 60), (3, 2, 60), (3, 2, 2), (3, 2, -4), (3, 2, 2), (3, 2, -3.9), (3, 2, -8), (3, 2, 2), (3, 2, 60)]
        points, axis = np.array(places) @ plane.axes.T + np.array(plane.origin), plane.axes[:, 2]
        maker.link(points[0], axis, 0.0)
        for point, drills in zip(points[1:], (0, 0, 1, 0, 0, 1, 0, 0), strict=True):
            if drills:
                maker.cut(point, axis, 120, None)
            else:
                maker.rapid(point, axis)
    maker.text = change(maker.text)
    return verdict(maker.program(), toolpath, machine())


LOW = "G53 G0 Z0"


def _deeper(lines: list[str]) -> list[str]:
    """The last step of the first hole half a millimetre deeper: only Z says how deep, wherever the table has been turned to."""
    at = [number for number, line in enumerate(lines) if line.startswith("G94 G1")][1]
    deeper = re.sub(r"Z(-?[\d.]+)", lambda found: f"Z{float(found[1]) - 0.5:.4f}", lines[at])
    return [*lines[:at], deeper, *lines[at + 1 :]]


def _turned_late(lines: list[str]) -> list[str]:
    at = lines.index(LOW, 1) + 1
    return [*lines[:at], *lines[at + 1 : at + 3], lines[at], *lines[at + 3 :]]


FAULTS_ON_CHAINS: dict[str, tuple[str, Fault]] = {
    "the other solution within a cut": ("off-path", _other_solution_within_a_cut),
    "a point of A's axis 0.1 too high": ("cut-elsewhere", lambda: _by(BOWL, C_ON_A, _rotary(C_ON_A, "A", point=[0, 0.12, 48.1]))),
    "a point of A's axis 0.1 behind": ("cut-elsewhere", lambda: _by(BOWL, C_ON_A, _rotary(C_ON_A, "A", point=[0, 0.22, 48]))),
    "a point of A's axis left out": ("rapid-low", lambda: _by(planes(), C_ON_A, _rotary(C_ON_A, "A", point=[0, 0, 0]))),
    "a pivot 0.1 too long": ("cut-elsewhere", lambda: _by(BOWL, HEAD_AND_TABLE, _rotary(HEAD_AND_TABLE, "B", pivot=[0, 0.05, 150.1]))),
    "a pivot 0.1 aside": ("cut-elsewhere", lambda: _by(BOWL, TWO_IN_HEAD, _rotary(TWO_IN_HEAD, "A", pivot=[0, 0.06, 170]))),
    "the gauge length of another tool": ("cut-elsewhere", lambda: _by(BOWL, HEAD_AND_TABLE, gauge=111.0)),
    "a gauge length 0.1 too long": ("cut-elsewhere", lambda: _by(BOWL, TWO_IN_HEAD, gauge=GAUGE[1] + 0.1)),
    "a leaning axis mirrored": (
        "cut-elsewhere",
        lambda: _by(planes(), LEANING, _rotary(LEANING, "B", leans={"towards": "-Y", "by": 45})),
    ),
    "a leaning axis a tenth of a degree off": (
        "cut-elsewhere",
        lambda: _by(BOWL, LEANING, _rotary(LEANING, "B", leans={"towards": "+Y", "by": 45.1})),
    ),
    "a leaning axis taken for a square one": (
        "rapid-low",
        lambda: _by(planes(), LEANING, {**LEANING, "rotary": {"C": turning("Z"), "B": turning("Y", point=[0.1, -0.3, 60])}}),
    ),
    "a plane's X turned by a degree": (
        "off-path",
        lambda: _by(planes(), C_ON_A, source=planes(where=[{**PLANES[0], "x": [1, 0.0247, -1]}, PLANES[1]])),
    ),
    "a plane's X turned by a right angle": (
        "off-path",
        lambda: _by(planes(), C_ON_A, source=planes(where=[{**PLANES[0], "x": [0, 1, 0]}, PLANES[1]])),
    ),
    "a plane's origin 0.05 off": ("rapid-low", lambda: _by(planes(), C_ON_A, source=planes(where=_plane(1, origin=[0, 12, 30.05])))),
    "a plane that leans a tenth of a degree more": (
        "rapid-low",
        lambda: _by(planes(), C_ON_A, source=planes(where=[{**PLANES[0], "z": [1, 0, 0.9965]}, PLANES[1]])),
    ),
    "planes in the wrong order": ("rapid-low", lambda: _by(planes(), C_ON_A, source=planes(where=PLANES[::-1]))),
    "a plane left out": ("ends-early", lambda: _by(planes(), C_ON_A, source=planes(where=PLANES[:1]))),
    "the plane's tool axis the other way": (
        "rapid-low",
        lambda: _by(planes(), C_ON_A, source=planes(where=[{**PLANES[0], "z": [-1, 0, -1], "x": [1, 0, -1]}, PLANES[1]])),
    ),
    "A and C swapped": (
        "rapid-low",
        lambda: _text(lambda lines: [line.translate(str.maketrans("AC", "CA")) for line in lines], planes()),
    ),
    "the sign of A turned": (
        "cut-elsewhere",
        lambda: _by(planes(), C_ON_A, _rotary(C_ON_A, "A", positive_turns_chuck="counterclockwise")),
    ),
    "the sign of C turned": (
        "rapid-low",
        lambda: _by(planes(), C_ON_A, _rotary(C_ON_A, "C", positive_turns_chuck="counterclockwise")),
    ),
    "the sign of a head's rotary turned": (
        "ends-early",
        lambda: _by(planes(), HEAD_AND_TABLE, _rotary(HEAD_AND_TABLE, "B", positive_turns_chuck="counterclockwise")),
    ),
    "a rotary seen from the other end": ("cut-elsewhere", lambda: _by(planes(), C_ON_A, _rotary(C_ON_A, "A", chuck_faces="-X"))),
    "a head taken for a table": (
        "ends-early",
        lambda: _by(
            planes(), HEAD_AND_TABLE, {**HEAD_AND_TABLE, "chain": "part C B bed spindle", "rotary": {"C": turning("Z"), "B": turning("Y")}}
        ),
    ),
    "the centre 0.1 off": ("cut-elsewhere", lambda: _by(BOWL, C_ON_A, source=bowl_about([1.1, 2, 3]))),
    "one word of A 0.1 degrees off in a cut": ("off-path", lambda: _spoiled(_added(4, 0.1))),
    "one word of C a degree off in a cut": ("off-path", lambda: _spoiled(_added(3, 1.0))),
    "one word of C a whole turn off in a cut": ("off-path", lambda: _spoiled(_added(3, 360.0))),
    "C a whole turn on from a block of the cut": ("off-path", lambda: _spoiled(_added(3, 360.0), only=False)),
    "one word of X 0.05 off in a cut": ("off-path", lambda: _spoiled(_added(0, 0.05))),
    "one word of Z 0.05 off in a cut": ("off-path", lambda: _spoiled(_added(2, -0.05))),
    "a head's word 0.05 degrees off in a cut": ("off-path", lambda: _spoiled(_added(4, 0.05), chain=TWO_IN_HEAD)),
    "the tool axis aside of the pole": ("tool-axis", lambda: _aside_at_the_pole(0.2)),
    "a cut in too few blocks": ("off-path", lambda: _by(BOWL, C_ON_A, source=bowl(20))),
    "a block of the cut left out": ("feed", lambda: _text(_replaced(r"^G93.*", "", CUT), BOWL)),
    "inverse time twice as fast": ("feed", lambda: _text(_replaced(r"F([\d.]+)$", "F900", CUT), BOWL)),
    "no inverse time": ("feed", lambda: _text(_replaced("G93", "G94", CUT), BOWL)),
    "F of the tip with a head a tenth too high": ("feed", lambda: at_the_tip(_replaced("F600$", "F660", CUT), TWO_IN_HEAD)),
    "back from a turn in the cut to a point before": ("cut-elsewhere", lambda: _re_oriented(CUT - 10)),
    "back from a turn in the cut to a point farther on": ("cut-elsewhere", lambda: _re_oriented(CUT + 10)),
    "a head leaves a cut beside its tool axis": ("off-path", lambda: withdrawn(aside=0.5)),
    "a head leaves a cut too short along its tool": ("rapid-low", lambda: withdrawn(out=10.0)),
    "a head comes back to a point before": ("cut-elsewhere", lambda: withdrawn(back=CUT - 10)),
    "a head comes back to a cut too fast": ("feed", lambda: withdrawn(down=4000.0)),
    "an arc across a level tool the other way round": ("off-path", lambda: with_arcs(lambda text: re.sub(r"\bG3\b", "G2", text))),
    "a line that bulges by a twentieth before an arc": ("off-path", lambda: with_arcs(lambda text: text.replace("Y8 F500\n", BULGES))),
    "an arc across a level tool cut straight": ("off-path", lambda: with_arcs(lambda text: re.sub(r"G19 G3 (.*) J0 K4", r"G1 \1", text))),
    "a turn below the clear height": ("turn-low", lambda: _text(_replaced(LOW, "", 1), planes())),
    "a turn of a head at a height alone": ("turn-low", lambda: _text(_replaced(LOW, "G0 Z800", 1), planes(), HEAD_AND_TABLE)),
    "a turn of a head at feed between two cuts": (
        "cut-elsewhere",
        lambda: _text(_replaced(LOW, "G94 G1 B-20 F500", 1), planes(), HEAD_AND_TABLE),
    ),
    "over the place before it is turned": (
        "turn-low",
        lambda: _text(_turned_late, planes()),
    ),
    "down before it is over the place": ("rapid-low", lambda: _text(lambda lines: [*lines[:2], lines[3], lines[2], *lines[4:]], planes())),
    "out of the part aside instead of along the tool axis": (
        "rapid-low",
        lambda: _text(lambda lines: [*lines[:8], "G0 X-40", *lines[8:]], planes()),
    ),
    "a turn beyond the travel": (
        "rotary-travel",
        lambda: _by(planes(), _rotary(C_ON_A, "A", travel={"kind": "limited", "from": -30, "to": 30}), C_ON_A),
    ),
    "a turn of a rotary that only indexes": (
        "turn-in-cut",
        lambda: _by(BOWL, _rotary(C_ON_A, "A", turns_while_cutting=False), C_ON_A),
    ),
    "a turn faster than the rotary": ("rotary-speed", lambda: _by(BOWL, _rotary(C_ON_A, "C", fastest=300), C_ON_A)),
    "one of two clamps not put on": ("clamp-off", lambda: _clamped(_replaced(r"^M12$", ""))),
    "one of two clamps not released": ("turn-clamped", lambda: _clamped(_replaced(r"^M11$", "", 1))),
    "a clamp released in the part": ("release-low", lambda: _clamped(lambda lines: [*lines[:11], "M13", "M12", *lines[11:]])),
    "a hole in a plane aside": ("hole-aside", lambda: _hole(_replaced(r"^(G94 G1 X)", r"\g<1>1", 1))),
    "a hole in a plane too deep": ("hole-deep", lambda: _hole(_deeper)),
    "a peck in a plane left out": ("peck-step", lambda: _hole(lambda lines: [*lines[:7], *lines[9:]])),
    "a rapid down in a hole in a plane": ("hole-rapid-down", lambda: _hole(_replaced(r"^G94 G1 (.*) F120", r"G0 \1"))),
    "another line in the head": ("lines", lambda: _text(lambda lines: ["(AXIS OF A THROUGH X1 Y2.12 Z50)", *lines], planes())),
    "another pivot in the head": ("lines", lambda: _text(lambda lines: ["(PIVOT OF B AT X0 Y0 Z149.9)", *lines], planes(), HEAD_AND_TABLE)),
    "another gauge length in the head": (
        "lines",
        lambda: _text(lambda lines: ["(T1 GAUGE LENGTH 128.45)", *lines], planes(), HEAD_AND_TABLE),
    ),
}


def bowl_about(centre: list[float]) -> Toolpath:
    return BOWL.model_copy(update={"centre": tuple(centre)})


def right(profile: Profile, toolpath: Toolpath) -> Verdict:
    """The same program without a fault."""
    return verdict(written(toolpath, profile).program(), toolpath, profile, gauge_lengths=GAUGE)
