"""Which codes the controller has for what; an empty code means that it cannot, and asking for it is an error."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from steadyrest.profile.base import Code, Finite, Letter, NotNegative, Positive, Settings, impossible

TrustedCode = Annotated[str, StringConstraints(pattern=r"^[GM]\d{1,4}(\.\d)?$")]
"""A code that is taken on trust: never empty."""


class Units(Settings):
    """Millimetres and inches."""

    mm: Code = Field("G21", description="The code for millimetres; empty: the controller has none.")
    inch: Code = Field("G20", description="The code for inches; empty: the controller has none.")
    program: Literal["as_toolpath", "mm", "inch"] = Field(
        "as_toolpath", description="The units of the program: those of the toolpath, or always mm, or always inch."
    )

    def _check(self) -> None:
        if not self.mm and not self.inch and self.program == "as_toolpath":
            raise impossible(
                "the controller has no code for mm and none for inches, so the unit of its programs has to be given",
                key="program",
                cure='program = "mm" or program = "inch"',
            )


class Codes(Settings):
    """Motion, planes, distance, offsets, dwell."""

    rapid: Code = Field("G0", description="Rapid traverse.")
    line: Code = Field("G1", description="Straight line at feed.")
    arc_clockwise: Code = Field("G2", description="Arc clockwise, seen from the + end of the third axis.")
    arc_counterclockwise: Code = Field("G3", description="Arc counterclockwise.")
    plane_xy: Code = Field("G17", description="Arcs and cycles in the XY plane.")
    plane_xz: Code = Field("G18", description="Arcs in the XZ plane.")
    plane_yz: Code = Field("G19", description="Arcs in the YZ plane.")
    absolute: Code = Field("G90", description="Axis words are positions.")
    incremental: Code = Field("G91", description="Axis words are steps.")
    work_offset: Code = Field("G54", description="The work offset that the program selects; empty: none is written.")
    path_mode: Code = Field(
        "",
        description=(
            "How the controller runs along the path, such as exactly (G61): stated before the first motion, and a program that "
            "changes it later is shown as such; empty: none is written."
        ),
    )
    dwell: Code = Field("G4", description="A pause.")
    dwell_letter: Letter = Field("P", description="The letter of a pause's time.")
    dwell_unit: Literal["seconds", "milliseconds"] = Field("seconds", description="The unit of a pause's time.")
    trusted: tuple[TrustedCode, ...] = Field(
        (),
        description=(
            "G and M codes that the shop's own templates write and that move nothing, and switch nothing that the proof looks at "
            "(a door, a light, a chip conveyor). The proof takes them on trust; any other unknown code is an error."
        ),
    )


class ToolChange(Settings):
    """How a tool comes into the spindle and its length into the numbers."""

    change: Code = Field("M6", description="The tool change; empty: the operator changes it at a program stop.")
    letter: Letter = Field("T", description="The letter before the tool's number.")
    digits: int = Field(1, ge=1, le=8, description="The tool's number has at least so many digits: 2 makes T05 of T5.")
    length_offset: Code = Field("G43", description="Tool length offset on; empty: the controller needs no word for it.")
    offset_letter: Letter = Field("H", description="The letter of the offset's number, which is the tool's number.")
    offset_digits: int = Field(1, ge=1, le=8, description="The same for the offset's number: 2 makes H05 of H5.")
    cancel_offset: Code = Field("G49", description="Tool length offset off.")
    largest: int = Field(99, ge=1, description="The largest tool number.")


class Spindle(Settings):
    """The spindle."""

    stands: Literal["upright", "horizontal"] = Field(
        "upright",
        description=(
            "Whether the spindle is upright or horizontal; pictures, sheets and questions follow it. `upright`: Z goes up and Y away from "
            "you; `horizontal`: Y goes up and Z towards you. X goes to your right in both."
        ),
    )
    clockwise: Code = Field("M3", description="Spindle on, clockwise.")
    counterclockwise: Code = Field("M4", description="Spindle on, counterclockwise.")
    stop: Code = Field("M5", description="Spindle off.")
    largest_rpm: Positive = Field(24000, description="The highest speed, revolutions per minute; more is an error.")
    dwell: NotNegative = Field(0, description="Pause after starting or changing speed, in seconds, to come up to speed.")


class Coolant(Settings):
    """Coolant and air."""

    flood: Code = Field("M8", description="Flood coolant on.")
    mist: Code = Field("M7", description="Mist coolant on.")
    air: Code = Field("", description="Air blast on.")
    through: Code = Field("", description="Coolant through the tool on.")
    off: Code = Field("M9", description="All coolant off.")


class Stops(Settings):
    """Stops and the end."""

    program: Code = Field("M0", description="Stop until the operator starts again.")
    optional: Code = Field("M1", description="The same, if the operator has chosen optional stops.")
    end: Code = Field("M30", description="End of the program.")


class Retract(Settings):
    """How the tool goes clear before the rotary turns, a tool changes, or the program ends: along the spindle, first of all."""

    form: Literal["machine_zero", "reference", "height"] = Field(
        "machine_zero",
        description=(
            "`machine_zero`: to `machine_z` in machine coordinates (code G53); `reference`: to the reference point by way "
            "of the present place (code G28); `height`: to the clear height over the axis, in work coordinates."
        ),
    )
    machine_code: Code = Field("G53", description="The code for one block in machine coordinates.")
    machine_z: Finite = Field(0, description="Z in machine coordinates, mm, clear of everything; 0 is usually the top.")
    reference_code: Code = Field("G28", description="The code for the reference point.")


class Cycles(Settings):
    """Drilling cycles that the controller speaks; an empty code: written out in single moves (tapping: refused)."""

    drill: Code = Field("G81", description="Feed down, rapid up.")
    dwell_drill: Code = Field("G82", description="Feed down, pause, rapid up.")
    peck: Code = Field("G83", description="Feed down in steps, each time up to the R level.")
    chip_break: Code = Field("", description="Feed down in steps, each time up by `chip_break_rise`.")
    tap: Code = Field("G84", description="Feed down and up in step with the spindle, which reverses at the bottom.")
    bore: Code = Field("G85", description="Feed down, feed up.")
    cancel: Code = Field("G80", description="No cycle.")
    return_to_r: Code = Field("G99", description="Up to the R level after each hole; empty: the controller always does.")
    return_to_old: Code = Field("G98", description="Up to the level from before the cycle; read, never written.")
    r_letter: Letter = Field("R", description="The letter of the R level.")
    peck_letter: Letter = Field("Q", description="The letter of the step of a peck.")
    dwell_letter: Letter = Field("P", description="The letter of the pause at the bottom, in the unit of `codes.dwell_unit`.")
    depth_from: Literal["absolute", "r_level"] = Field(
        "absolute",
        description="Z of a cycle: a position like any other, or the signed depth from the R level (and R from the present level).",
    )
    chip_break_rise: Positive = Field(0.5, description="How far the tool rises to break the chip, mm.")
    peck_gap: Positive = Field(0.5, description="How far above the last depth a written-out peck goes on at feed, mm.")

    @property
    def spoken(self) -> bool:
        """Whether the controller has any cycle at all."""
        return any((self.drill, self.dwell_drill, self.peck, self.chip_break, self.tap, self.bore))
