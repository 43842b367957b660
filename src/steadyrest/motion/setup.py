"""What is fixed for a whole plan: the rotary, its sign and centre, the program's units, the clear height; what a controller cannot do."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.errors import Place, PlanError
from steadyrest.motion.chain import SPINDLE, Line, Lines, lines_of
from steadyrest.motion.end_for_end import check_start_position, end_for_end, held_at_the_other_end
from steadyrest.motion.kinematics import sigma
from steadyrest.motion.model import Kind, Seen
from steadyrest.notices import Notice, noticed
from steadyrest.profile import Chain, Profile, Rotary, RotaryLetter, chain_of, has_one_in_table, rotaries_of, rotaries_text
from steadyrest.progress import WRITING, Progress, Work
from steadyrest.toolpath import BEYOND, Operation, Toolpath

DEFAULT_TOLERANCE_MM = 0.01
LEAST_TOLERANCE = 1e-6
"""File units: below it rounding is coarser than what is asked."""
MOST_ROTARIES = 2
EDGES = 16
"""Points round a tool's edge, those of a polygon around it."""
UPRIGHT = 1e-9
"""A line that leans less from Z leaves all heights as they are."""


@dataclass(frozen=True, slots=True)
class Setup:
    """What is fixed for a whole plan. Lengths are in the units of the program, in work coordinates.

    toolpath     as it stands on the machine: turned end for end where the chuck stands at the other end of the stock
    end_for_end  whether it is
    rotaries     by their letters in the profile, counted from the part to the spindle; none for plain three-axis work without one
    lines        the axis of each as it stands, program units; those of a head as with a tool of no length
    gauge        by the number of a tool: from its tip to the gauge line, program units; of no meaning without a head
    letter       of a machine whose one rotary stands in the table, its letter; None with any other chain, and where there is no rotary
    rotary       the same, the rotary
    sigma        the same, of its mounting: phi = sigma * W
    axis         0, 1, 2: the axis of rotation runs along + of X, Y, Z
    centre       (3,) a point on the axis of rotation
    scale        program units per toolpath unit
    mm           program units per millimetre
    clear        height Z at which the rotary may turn at rapid; None where no height is enough (nothing known of the stock's top)
    tolerance    how far the tip may leave its path by subdivision
    notices      what was changed, complete when the plan is carried out; it and `seen` alone grow on the way
    seen         what is met on the way, by the number of the operation
    work         how many of the moves are planned
    """

    toolpath: Toolpath
    end_for_end: bool
    profile: Profile
    rotaries: dict[RotaryLetter, Rotary]
    lines: tuple[Line, ...]
    gauge: Mapping[int, float]
    letter: RotaryLetter | None
    rotary: Rotary | None
    sigma: int
    axis: int
    centre: Floats
    inch: bool
    scale: float
    mm: float
    clear: float | None
    tolerance: float
    notices: list[Notice] = field(default_factory=list)
    seen: defaultdict[int, Seen] = field(default_factory=lambda: defaultdict(Seen))
    work: Work = field(default_factory=lambda: Work(None, WRITING))

    @property
    def on_chain(self) -> bool:
        """Whether the machine is a chain of two rotaries, or of one that carries the tool."""
        return bool(self.rotaries) and self.rotary is None

    @property
    def has_head(self) -> bool:
        """Whether a rotary carries the tool, whose tip then swings while it turns."""
        return not all(line.carries_part for line in self.lines)

    @property
    def over(self) -> float:
        """With a head: how far over the centre along the tool axis the tool is clear of all that the stock can be turned to."""
        return self.toolpath.swept_ball * self.scale + self.profile.safety.clearance * self.mm

    def lines_with(self, operation: int) -> tuple[Line, ...]:
        """The axes as they stand with the tool of an operation.

        raises    PlanError where a head carries it and its gauge length is not known
        """
        if not self.has_head:
            return self.lines
        tool = self.operation(operation).tool
        if tool not in self.gauge:
            raise PlanError(
                f"the gauge length of tool {tool} is not known, and the head of {self.profile.name} turns the tool about a pivot",
                place=self.place(operation),
                cure=f"give it in {self.toolpath.units}: --tool-length {tool}=LENGTH, or gauge_length in the job file",
            )
        up = self.gauge[tool] * SPINDLE
        return tuple(line if line.carries_part else replace(line, point=line.point + up) for line in self.lines)

    def place(self, operation: int, move: int | None = None) -> Place:
        """The place of an operation, or of a move in it, in the toolpath."""
        name = self.toolpath.operations[operation - 1].name
        return Place(file=self.toolpath.file, operation=operation, operation_name=name, move=move or None)

    def operation(self, number: int) -> Operation:
        """The operation of that number, from 1."""
        return self.toolpath.operations[number - 1]

    def counts(self, kind: Kind, letter: str = "") -> float:
        """How many counts of its word one of a kind of number has, in the units of the program, if need be behind its letter."""
        numbers = self.profile.numbers
        form = numbers.by_letter.get(letter, getattr(numbers, kind))
        return float(10.0 ** (form.inch_decimals if self.inch and form.inch_decimals is not None else form.decimals))


def set_up(
    toolpath: Toolpath,
    profile: Profile,
    *,
    tolerance: float | None = None,
    gauge_lengths: Mapping[int, float] | None = None,
    progress: Progress | None = None,
) -> Setup:
    """Everything that is fixed for a plan of this toolpath on this controller.

    tolerance      file units, part frame; 0.01 mm unless given
    gauge_lengths  by the number of a tool: from its tip to the gauge line, file units; needed where a head turns
    progress       is told how many moves are planned
    raises         PlanError where units, rotary or clear height do not go together; ToolpathError for what one rotary cannot do
    """
    inch = _program_in_inches(toolpath, profile)
    scale = {("mm", True): 1 / MM_PER_INCH, ("inch", False): MM_PER_INCH}.get((toolpath.units, inch), 1.0)
    mm = 1 / MM_PER_INCH if inch else 1.0
    rotaries = _rotaries(toolpath, profile)
    chain = chain_of(profile) or Chain(tuple(rotaries))
    letter, rotary = next(iter(rotaries.items()), (None, None)) if len(rotaries) < 2 and not chain.tool else (None, None)
    if tolerance is not None and not LEAST_TOLERANCE <= tolerance < BEYOND:
        wrong = "is not more than 0" if not tolerance > 0 else f"is not from {LEAST_TOLERANCE:g} to {BEYOND:g}"
        raise PlanError(f"the tolerance {tolerance:g} {wrong}", cure="give a tolerance such as 0.01")
    notices: list[Notice] = []
    turned = held_at_the_other_end(toolpath, rotary)
    if turned:
        toolpath = end_for_end(toolpath)
        notices.append(noticed("EndForEnd", Place(key="stock, held"), chuck_faces=rotary.chuck_faces if rotary else ""))
    centre = np.array(toolpath.centre, dtype=np.float64) * scale
    lines = lines_of(profile, chain, centre, 0.0, mm) if rotaries else ()
    clear = _clear_height(toolpath, profile, lines, scale, mm)
    if rotary is not None or not rotaries:
        check_start_position(toolpath, profile)
    elif clear is not None:
        _check_start_height(profile, clear, mm)
    return Setup(
        toolpath=toolpath,
        end_for_end=turned,
        profile=profile,
        rotaries=rotaries,
        lines=lines,
        gauge={number: length * scale for number, length in (gauge_lengths or {}).items()},
        letter=letter,
        rotary=rotary,
        sigma=sigma(rotary) if rotary else 1,
        axis=AXES.index(toolpath.axis),
        centre=centre,
        inch=inch,
        scale=scale,
        mm=mm,
        clear=clear,
        tolerance=tolerance * scale if tolerance is not None else DEFAULT_TOLERANCE_MM * mm,
        notices=notices,
        work=Work(progress, WRITING, toolpath.moves_to_cut),
    )


def _rotaries(toolpath: Toolpath, profile: Profile) -> dict[RotaryLetter, Rotary]:
    """The rotaries of the profile's chain, or its one along the toolpath's axis; none for still work without one."""
    rotaries = rotaries_of(profile, toolpath.axis)
    if has_one_in_table(profile):
        toolpath.check_one_rotary()
    if rotaries or all(_stands(operation) for operation in toolpath.operations):
        return rotaries
    raise PlanError(
        f"the toolpath turns about {toolpath.axis}, and {profile.name} has no rotary along {toolpath.axis}; it has: "
        + rotaries_text(profile),
        place=Place(file=toolpath.file, key="axis"),
        cure="choose a controller with the rotary along that axis, or make the toolpath for the axis that is mounted",
    )


def _stands(operation: Operation) -> bool:
    """Whether an operation may do without a rotary: planes lie as they are, or are refused when they are laid on the machine."""
    rotary = operation.rotary
    return rotary.intent == "still" or (rotary.intent == "indexed" and rotary.planes is not None)


def _program_in_inches(toolpath: Toolpath, profile: Profile) -> bool:
    as_toolpath = profile.units.program == "as_toolpath"
    wanted = toolpath.units if as_toolpath else profile.units.program
    if as_toolpath and not (profile.units.inch if wanted == "inch" else profile.units.mm):
        raise PlanError(
            f"{profile.name} has no code for {wanted}, the units of the toolpath",
            place=Place(file=toolpath.file, key="units"),
            cure="set units.program to the units that the controller runs in; the program is then converted",
        )
    return wanted == "inch"


def _clear_height(toolpath: Toolpath, profile: Profile, lines: Lines, scale: float, mm: float) -> float | None:
    """Z over which rotaries may turn at rapid, program units: what the stock sweeps, and the profile's clearance.

    With the axis of rotation along the spindle, height is counted over the top of the stock instead. With a head it is so much more as its
    tool may dip; None where the profile has it turn at the machine's own zero.
    """
    over = profile.safety.clearance * mm
    head = [line for line in lines if not line.carries_part]
    if head and profile.retract.form != "height":
        return None
    if head or len(lines) == MOST_ROTARIES:
        foot, rise = _swung(np.array(toolpath.centre) * scale, [line for line in lines if line.carries_part])
        return float(foot[2]) + rise + toolpath.swept_ball * scale + _dips(toolpath, head, scale) + over
    if toolpath.axis != "Z":
        top = toolpath.swept_radius
    elif toolpath.stock is not None:
        top = toolpath.stock.along("Z")[1]
    else:
        return None
    return (toolpath.centre[2] + top) * scale + over


def _check_start_height(profile: Profile, clear: float, mm: float) -> None:
    """The place where the profile has the machine stand at the start has to be over all that two rotaries may turn the stock to.

    raises    PlanError where it is lower
    """
    position = profile.program.start_position
    if position is not None and position[2] * mm < clear:
        raise PlanError(
            f"the start position Z {position[2]:g} of {profile.name} is below {clear / mm:.6g} mm, over which the rotaries may turn",
            place=Place(key="program.start_position"),
            cure="set program.start_position to a higher place",
        )


def _dips(toolpath: Toolpath, head: Lines, scale: float) -> float:
    """By how much a head may bring tip or edge of any tool under where the tip is with the head at zero; a short tool dips most."""
    wide = max(tool.diameter for tool in toolpath.tools) / 2 * scale / np.cos(np.pi / EDGES)
    round_ = np.linspace(0.0, 2 * np.pi, EDGES, endpoint=False)
    edge = wide * np.column_stack([np.cos(round_), np.sin(round_), np.zeros(EDGES)])
    return max(reach - float(middle[2]) for middle, reach in (_swung(point, head[::-1]) for point in [np.zeros(3), *edge]))


def _swung(point: Floats, lines: Lines) -> tuple[Floats, float]:
    """Where lines take a point in turn: the middle (3,) of the last circle, and how far over or under that it comes.

    source    it runs on a circle about the first line, whose centre runs on a circle about the second. A circle rises as its line leans;
              one that a line which does not stand upright carries round may lie anyhow, and is no more than a ball
    """
    reach = 0.0
    leans = [float(np.hypot(*line.direction[:2])) for line in lines]
    for number, line in enumerate(lines):
        foot = _foot(point, line)
        carried = any(lean > UPRIGHT for lean in leans[number + 1 :])
        reach, point = reach + float(np.linalg.norm(point - foot)) * (1.0 if carried else leans[number]), foot
    return point, reach


def _foot(point: Floats, line: Line) -> Floats:
    """The point of a line that is nearest to another."""
    return np.asarray(line.point + ((point - line.point) @ line.direction) * line.direction)


def check_abilities(setup: Setup) -> None:
    """Everything that an operation asks for and its profile has no code for, or no ability.

    raises    PlanError naming the operation, the setting, and the cure
    """
    for number, operation in enumerate(setup.toolpath.operations, 1):
        for wrong, cure in _unable(operation, setup):
            raise PlanError(wrong, place=setup.place(number), cure=cure)


def _unable(operation: Operation, setup: Setup) -> Iterator[tuple[str, str]]:
    profile, intent = setup.profile, operation.rotary.intent
    turns, coolant = operation.spindle.turns, operation.coolant
    if operation.tool > profile.tool.largest:
        yield (
            f"tool {operation.tool} is more than {profile.tool.largest}, the largest tool number of {profile.name}",
            "give the tool a smaller number, or raise tool.largest in the profile",
        )
    changes = profile.tool.change or profile.stops.program
    for able, lacks, key in (
        (changes, "has no code for a tool change, nor for a stop to change it by hand", "tool.change"),
        (getattr(profile.spindle, turns), f"cannot turn the spindle {turns}", f"spindle.{turns}"),
        (coolant == "off" or getattr(profile.coolant, coolant), f"has no code for {coolant} coolant", f"coolant.{coolant}"),
    ):
        if not able:
            yield f"{profile.name} {lacks}", f"change the operation, or set {key} in the profile if the controller has such a code"
    if operation.spindle.rpm > profile.spindle.largest_rpm:
        yield (
            f"{operation.spindle.rpm:g} revolutions per minute are more than {profile.spindle.largest_rpm:g}, "
            f"the highest speed of {profile.name}",
            "lower the speed, or correct spindle.largest_rpm in the profile",
        )
    for letter, each in setup.rotaries.items():
        # of two rotaries one may stand while the other turns a drawing: `around` knows which
        if intent in ("wrapped", "simultaneous")[setup.on_chain :] and not each.turns_while_cutting:
            yield (
                f"the operation is {intent}, and the rotary {letter} of {profile.name} only indexes: it does not turn while the tool cuts",
                "use an indexed operation, or a controller whose rotary turns while cutting",
            )
    rotary = setup.rotary
    if rotary is None:
        return
    if operation.rotary.intent == "indexed" and rotary.steps:
        for angle in operation.rotary.angles or ():
            near = round(angle / rotary.steps) * rotary.steps
            if abs(angle - near) > 1e-6:
                yield (
                    f"angle {angle:g} is not one of the indexing head's steps of {rotary.steps:g} degrees; the nearest is {near:g}",
                    f"use angles that are multiples of {rotary.steps:g} degrees, or a rotary that stops anywhere",
                )


def check_replaced_axis(xyz: Floats, move: Ints, operation: int, setup: Setup) -> None:
    """Where a linear drive turns the rotary, nothing may need that linear axis anywhere but at the centre.

    xyz, move   (n, 3) places that are gone to, and (n,) the moves that ask for it
    raises      PlanError with the first move that needs it
    """
    if setup.rotary is None or not setup.rotary.replaces:
        return
    letter = setup.rotary.replaces
    place, centre = xyz[:, AXES.index(letter)], setup.centre[AXES.index(letter)]
    off = np.flatnonzero(np.abs(place - centre) > 0.5 / setup.counts("length"))
    if len(off):
        raise PlanError(
            f"{letter} {place[off[0]] / setup.scale:.6g} is needed here, but the "
            f"{letter} drive turns the rotary: only the centre is allowed, {centre / setup.scale:.6g}",
            place=setup.place(operation, int(move[off[0]])),
            cure="make the toolpath with the tool over the axis of rotation, or use a machine with a rotary axis of its own",
        )
