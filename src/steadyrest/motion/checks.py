"""What a controller cannot do is refused before anything is planned."""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion.setup import Setup
from steadyrest.motion.speed import decimals_of
from steadyrest.toolpath.model import Operation


def check_abilities(setup: Setup) -> None:
    """Everything that an operation asks for and its profile has no code for, or no ability.

    raises    PlanError naming the operation, the setting, and the cure
    """
    for number, operation in enumerate(setup.toolpath.operations, 1):
        _check_tool(number, operation, setup)
        _check_spindle(number, operation, setup)
        if operation.coolant != "off" and not getattr(setup.profile.coolant, operation.coolant):
            _refuse(number, setup, f"has no code for {operation.coolant} coolant", f"coolant.{operation.coolant}")
        _check_rotary(number, operation, setup)


def _check_tool(number: int, operation: Operation, setup: Setup) -> None:
    tool = setup.profile.tool
    if operation.tool > tool.largest:
        raise PlanError(
            f"tool {operation.tool} is more than {tool.largest}, the largest tool number of {setup.profile.name}",
            place=setup.place(number),
            cure="give the tool a smaller number, or raise tool.largest in the profile",
        )
    if not tool.change and not setup.profile.stops.program:
        _refuse(number, setup, "has no code for a tool change, nor for a stop to change it by hand", "tool.change")


def _check_spindle(number: int, operation: Operation, setup: Setup) -> None:
    spindle = setup.profile.spindle
    if not getattr(spindle, operation.spindle.turns):
        _refuse(number, setup, f"cannot turn the spindle {operation.spindle.turns}", f"spindle.{operation.spindle.turns}")
    if operation.spindle.rpm > spindle.largest_rpm:
        raise PlanError(
            f"{operation.spindle.rpm:g} revolutions per minute are more than {spindle.largest_rpm:g}, "
            f"the highest speed of {setup.profile.name}",
            place=setup.place(number),
            cure="lower the speed, or correct spindle.largest_rpm in the profile",
        )


def _check_rotary(number: int, operation: Operation, setup: Setup) -> None:
    intent, rotary = operation.rotary.intent, setup.rotary
    if rotary is None or intent == "still":
        return
    if intent in ("wrapped", "simultaneous") and not rotary.turns_while_cutting:
        raise PlanError(
            f"the operation is {intent}, and the rotary {setup.letter} of {setup.profile.name} only indexes: "
            "it does not turn while the tool cuts",
            place=setup.place(number),
            cure="use an indexed operation, or a controller whose rotary turns while cutting",
        )
    if operation.rotary.intent == "indexed" and rotary.steps:
        for angle in operation.rotary.angles:
            steps = angle / rotary.steps
            if abs(steps - round(steps)) * rotary.steps > 1e-6:
                near = round(steps) * rotary.steps
                raise PlanError(
                    f"angle {angle:g} is not one of the indexing head's steps of {rotary.steps:g} degrees; the nearest is {near:g}",
                    place=setup.place(number),
                    cure=f"use angles that are multiples of {rotary.steps:g} degrees, or a rotary that stops anywhere",
                )


def check_replaced_axis(xyz: Floats, move: Ints, operation: int, setup: Setup) -> None:
    """Where a linear drive turns the rotary, nothing may need that linear axis anywhere but at the centre.

    xyz, move   (n, 3) places that are gone to, and (n,) the moves that ask for it
    raises      PlanError with the first move that needs it
    """
    if setup.rotary is None or not setup.rotary.replaces:
        return
    axis = "XYZ".index(setup.rotary.replaces)
    half = 0.5 * 10.0 ** -decimals_of(setup.profile.numbers.length, setup)
    off = np.abs(xyz[:, axis] - setup.centre[axis]) > half
    if off.any():
        row = int(np.argmax(off))
        raise PlanError(
            f"{setup.rotary.replaces} {xyz[row, axis] / setup.scale:.6g} is needed here, but the drive of "
            f"{setup.rotary.replaces} turns the rotary: allowed is only the centre, {setup.centre[axis] / setup.scale:.6g}",
            place=setup.place(operation, int(move[row])),
            cure="make the toolpath with the tool over the axis of rotation, or use a machine with a rotary axis of its own",
        )


def _refuse(number: int, setup: Setup, lacks: str, key: str) -> None:
    raise PlanError(
        f"{setup.profile.name} {lacks}",
        place=setup.place(number),
        cure=f"change the operation, or set {key} in the profile if the controller has such a code",
    )
