"""The axes: how the rotary is mounted and what it can do, the linear axes, feed, arcs."""

from typing import Annotated, Literal

from pydantic import Field

from steadyrest.profile.base import Code, Finite, LinearLetter, NotNegative, Positive, Settings, impossible


class Travel(Settings):
    """How far the rotary goes, in degrees of its own word."""

    kind: Literal["unlimited", "limited", "rollover"] = Field(
        "unlimited",
        description=(
            "`unlimited`: counts on without end, A370 is a turn and ten degrees; `limited`: the same between `from` and "
            "`to`; `rollover`: positions from 0 to 360 only."
        ),
    )
    lowest: Finite = Field(-360, alias="from", description="The lowest angle, degrees, when limited.")
    highest: Finite = Field(360, alias="to", description="The highest angle, degrees, when limited.")
    rule: Literal["shortest", "sign"] = Field(
        "shortest",
        description=(
            "At rollover: the shortest way to the position, or the sign of the word as the direction, so that A-90 turns "
            "in the negative direction to 90. The position 0 reached in the negative direction is written -360."
        ),
    )
    when_exceeded: Literal["turn_back", "refuse"] = Field(
        "turn_back",
        description=(
            "What happens when one operation needs more than the limited travel: retract, turn back whole turns, come down "
            "and go on; or refuse the toolpath. With two rotaries or a head `reorient.inside_a_cut` says it for a cut."
        ),
    )

    def _check(self) -> None:
        if self.kind == "limited" and (self.lowest == self.highest or not self.lowest <= 0 <= self.highest):
            raise impossible(
                f"{self.lowest:g} to {self.highest:g} degrees is no travel that includes 0, the angle from which toolpaths count",
                key="from",
                cure="give from < to, and set the rotary's zero so that 0 is within its travel",
            )


class Unwinding(Settings):
    """Which of the angles 360 degrees apart is taken between operations, and where the rotary is left."""

    between: Literal["shortest", "one_side", "zero"] = Field(
        "shortest",
        description=(
            "`shortest`: the way that makes the least total turning; `one_side`: the same, but always arriving from the "
            "side `arrive_from` against backlash; `zero`: back to the turn around 0 before each operation, least turning inside it."
        ),
    )
    arrive_from: Literal["below", "above"] = Field("below", description="The side from which `one_side` arrives.")
    overshoot: Positive = Field(5, description="How far `one_side` goes past, degrees, before it arrives.")
    at_end: Literal["stay", "nearest_turn", "zero"] = Field(
        "stay",
        description=(
            "At the end of the program: stay, go to the nearest whole turn (the part stands as at 0), or turn all the way back to 0."
        ),
    )


class Clamp(Settings):
    """The rotary's clamp."""

    use: Literal["never", "indexing"] = Field("never", description="No clamp codes, or clamp for every indexed and still operation.")
    on: Code = Field("", description="Clamp.")
    off: Code = Field("", description="Release.")
    dwell: NotNegative = Field(0, description="Pause after each clamp code, seconds.")


class Leans(Settings):
    """With a `chain`: how a rotary's axis leans away from `along`, such as leans = {towards = "-Y", by = 45}. Left out: it does not."""

    towards: Literal["+X", "-X", "+Y", "-Y", "+Z", "-Z"] = Field(description="Where the + end of the axis leans to, square to `along`.")
    by: Finite = Field(description="By how many degrees, above 0 and below 90.")

    def _check(self) -> None:
        if not 0 < self.by < 90:
            cure = "give an angle above 0 and below 90, or leave `leans` out and correct `along`"
            raise impossible(f"an axis cannot lean by {self.by:g} degrees", key="by", cure=cure)


SAME_FACT = {"seen_from": "chuck_faces", "positive_turns": "positive_turns_chuck"}
"""Two spellings of a fact of a rotary: the one that says it of any rotary, and that of a chuck, under which it is kept."""

Coordinates = tuple[Finite, Finite, Finite]


class Rotary(Settings):
    """The rotary as it stands on the machine today. Its table's name, A, B or C, is its letter in the program."""

    along: LinearLetter = Field(description="The linear axis to which the axis of rotation is parallel.")
    chuck_faces: Literal["+X", "-X", "+Y", "-Y", "+Z", "-Z"] = Field(
        description="The direction in which the chuck's face points, as you see it at the machine. `seen_from` says the same of any "
        "rotary: stand at that end of its axis and look along it. One of the two is given."
    )
    positive_turns_chuck: Literal["clockwise", "counterclockwise"] = Field(
        description="Which way a positive command turns the chuck, seen looking at the chuck's face. `positive_turns` says the same of any "
        "rotary: which way what it carries turns, seen from there; of a head watch the spindle's nose. One of the two is given."
    )
    leans: Leans | None = Field(None, description="With a `chain`: how the axis leans away from `along`. Left out: it does not.")
    point: Coordinates | None = Field(
        None,
        description="With a `chain`, of a rotary in the table: a point on its axis with all rotaries at zero, X Y Z in mm from the "
        "reference point, which is `centre` of the toolpath. Left out: the axis goes through the reference point.",
    )
    pivot: Coordinates | None = Field(
        None,
        description="Of a rotary in the head: a point on its axis with all rotaries at zero, X Y Z in mm from the gauge point, where the "
        "spindle's axis meets the gauge line; +Z is up into the head. Left out: the axis goes through the gauge point.",
    )
    replaces: Literal["", "X", "Y", "Z"] = Field(
        "",
        description=(
            "Empty: the rotary has its own letter. A linear axis: its drive turns the rotary instead, so its letter is "
            "written, and the toolpath must not need that axis anywhere but at the centre."
        ),
    )
    mm_per_degree: Finite = Field(
        0,
        description="With `replaces`: mm on that axis for one degree of the rotary; its sign belongs to the drive, not to the mounting.",
    )
    travel: Travel = Travel.model_construct()
    unwinding: Unwinding = Unwinding.model_construct()
    clamp: Clamp = Clamp.model_construct()
    fastest: Positive = Field(7200, description="The highest speed of rotation, degrees per minute, rapid and feed alike.")
    steps: NotNegative = Field(0, description="Fixed steps of an indexing head, degrees; an angle off them is an error. 0: any angle.")
    prefer: Literal["either", "positive", "negative"] = Field(
        "either",
        description="With two rotaries most tool axes are reached in two ways: the side of its zero, counted from -180 to 180 degrees, on "
        "which this rotary stands. `positive` or `negative` of a head that leans one way only, or a table that tilts to the door.",
    )
    turns_while_cutting: bool = Field(True, description="False: the rotary indexes only; wrapped and simultaneous are errors.")

    def word_letter(self, letter: str) -> str:
        """What the program and the machine's display call the rotary of that table: the letter of the axis whose drive turns it."""
        return self.replaces or letter

    @property
    def rolls_over(self) -> bool:
        """Whether its positions count within a turn."""
        return self.travel.kind == "rollover"

    @property
    def positive_word_turns_chuck(self) -> str:
        """Which way the chuck turns, looking at its face, where the word counts up: a borrowed drive may count against the degrees."""
        return self.turns_by_word(self.positive_turns_chuck)

    def turns_by_word(self, turns: str) -> str:
        """Which way the word turns the chuck where degrees turn it so, and the other way round."""
        if self.mm_per_degree >= 0:
            return turns
        return "clockwise" if turns == "counterclockwise" else "counterclockwise"

    def _check(self) -> None:
        if self.chuck_faces[1] != self.along:
            raise impossible(
                f"a rotary along {self.along} cannot have a chuck that faces {self.chuck_faces}",
                key="chuck_faces",
                cure=f"+{self.along} or -{self.along}: the direction in which the chuck's face points",
            )
        if self.leans is not None and self.leans.towards[1] == self.along:
            raise impossible(
                f"an axis along {self.along} cannot lean towards {self.leans.towards}",
                key="leans.towards",
                cure=f"a direction square to {self.along}",
            )
        if bool(self.replaces) != bool(self.mm_per_degree):
            raise impossible(
                "the axis whose drive turns the rotary, and its mm for one degree, are given together or not at all",
                key="mm_per_degree",
                cure='for example replaces = "Y" and mm_per_degree = 0.1, or take out the one that is given',
            )
        if self.replaces and self.replaces in (self.along, "Z"):
            reason = "Z is the spindle's axis" if self.replaces == "Z" else f"{self.replaces} is needed along the part"
            raise impossible(
                f"the rotary cannot replace {self.replaces}: {reason}", key="replaces", cure="use X or Y, and not the axis of `along`"
            )
        if self.travel.kind == "limited" and (
            (self.prefer == "positive" and self.travel.highest <= 0) or (self.prefer == "negative" and self.travel.lowest >= 0)
        ):
            raise impossible(
                f"the travel from {self.travel.lowest:g} to {self.travel.highest:g} degrees has no {self.prefer} side",
                key="prefer",
                cure='correct the travel, or prefer = "either"',
            )
        if self.replaces and self.travel.kind == "rollover":
            raise impossible(
                f"the drive of {self.replaces} counts on without end or has limits; it does not roll over at 360",
                key="travel.kind",
                cure='"unlimited" or "limited"',
            )
        if self.steps > 0 and self.turns_while_cutting:
            raise impossible(
                f"a head with fixed steps of {self.steps:g} degrees cannot turn while cutting",
                key="turns_while_cutting",
                cure="turns_while_cutting = false",
            )
        if self.steps > 0 and abs(360 / self.steps - round(360 / self.steps)) > 1e-6:
            raise impossible(f"360 degrees are not a whole number of steps of {self.steps:g}", key="steps", cure="for example 5 or 15")


class LinearAxis(Settings):
    """One of X, Y, Z."""

    travel: NotNegative = Field(0, description="The longest way it can go, mm; a program that needs more is refused. 0: not checked.")
    fastest: Positive = Field(5000, description="Rapid speed, mm per minute: for times and for the tool's speed limit.")


class Feed(Settings):
    """What F means, and which mode is used for which kind of move."""

    per_minute_code: Code = Field("G94", description="The code for feed per minute; empty: always so.")
    inverse_code: Code = Field("", description="The code for inverse time; empty: the controller has none.")
    inverse_is: Literal["per_minute", "per_second", "seconds"] = Field(
        "per_minute",
        description="F in inverse time: 1 over minutes, 1 over seconds, or the plain time of the block in seconds.",
    )
    per_minute_counts: Literal["linear_axes", "all_axes", "tip"] = Field(
        "linear_axes",
        description=(
            "What F per minute is the speed of when the rotary moves: of X, Y, Z alone, as if the rotary stood still "
            "(degrees per minute when it moves alone); of all axes, a degree counted as a length unit of the program "
            "(with `replaces`: the words of the replaced axis, in their length unit); of the tool tip over the part."
        ),
    )
    linear: Literal["per_minute", "inverse"] = Field("per_minute", description="The mode for moves of linear axes only.")
    rotary: Literal["per_minute", "inverse"] = Field("per_minute", description="The mode for moves of the rotary only.")
    combined: Literal["per_minute", "inverse"] = Field("per_minute", description="The mode for moves of both.")
    largest_mm: Positive = Field(99999, description="The largest F per minute in a mm program.")
    largest_inch: Positive = Field(9999, description="The largest F per minute in an inch program.")
    largest_inverse: Positive = Field(99999, description="The largest F in inverse time.")


class Arcs(Settings):
    """Which arcs the controller speaks; others are cut into straight blocks."""

    form: Literal["centre", "radius", "none"] = Field(
        "centre", description="`centre`: I, J, K; `radius`: R, negative above 180 degrees; `none`: no arcs."
    )
    centre_is: Literal["incremental", "absolute"] = Field(
        "incremental", description="I, J, K as steps from the arc's start, or as positions."
    )
    planes: tuple[Literal["XY", "XZ", "YZ"], ...] = Field(("XY", "XZ", "YZ"), description="The planes in which the controller takes arcs.")
    largest_radius: Positive = Field(99999, description="The largest radius, mm.")
    smallest_radius: NotNegative = Field(0, description="The smallest radius, mm.")
    full_circles: bool = Field(True, description="A full circle in one block. Never with `radius`: it would have no centre.")
    helical: bool = Field(True, description="An arc whose third axis moves as well.")
    largest_sweep: Positive = Field(360, le=360, description="The widest arc in one block, degrees; wider ones are split.")

    def _check(self) -> None:
        if self.form == "none":
            return
        if not self.planes or len(set(self.planes)) != len(self.planes):
            raise impossible(
                "a plane of arcs is named twice" if self.planes else "the controller has arcs, but no plane is given for them",
                key="planes",
                cure='for example ["XY", "XZ", "YZ"], or form = "none"',
            )
        if self.smallest_radius >= self.largest_radius:
            raise impossible("the smallest radius is not below the largest", key="smallest_radius")
        if self.full_circles and self.form == "radius":
            raise impossible("a full circle given by its radius has no centre", key="full_circles", cure="full_circles = false")
        if self.full_circles and self.largest_sweep < 360:
            raise impossible(
                f"a full circle in one block is wider than the largest sweep of {self.largest_sweep:g} degrees",
                key="full_circles",
                cure="full_circles = false, or largest_sweep = 360",
            )


class Safety(Settings):
    """Distances kept on purpose."""

    clearance: Positive = Field(5, description="Over the swept radius of the stock, mm: at this height the rotary may turn at rapid.")


class Positions(Settings):
    """What the positions of a program with two rotaries, or of a head, are positions of."""

    turning: Literal["axes", "tip_control"] = Field(
        "axes",
        description="Where rotaries turn while cutting: `axes`: the words say where the axes go; `tip_control`: the controller itself "
        "keeps the tip on its path. So far programs are written in words of the axes only.",
    )
    planes: Literal["axes", "tilted"] = Field(
        "axes",
        description="Where planes are cut in: `axes`: the words say where the axes go; `tilted`: the controller itself turns the "
        "coordinates into the plane. So far programs are written in words of the axes only.",
    )

    def _check(self) -> None:
        for key, asked in (("turning", self.turning), ("planes", self.planes)):
            if asked != "axes":
                wrong = f'"{asked}" is not written yet: so far the words of every program say where the axes go'
                raise impossible(wrong, key=key, cure=f'{key} = "axes"')


class Reorient(Settings):
    """With two rotaries or a head: leaving along the tool axis, turning clear of all, and coming back along it."""

    inside_a_cut: Literal["withdraw", "refuse"] = Field(
        "refuse",
        description="What happens where one cut fits in no travel of the rotaries: `withdraw`: leave along the tool axis, turn, come back "
        "to where the cut was left and go on, also at a pole beyond which the travels have no room; `refuse`: refuse the toolpath.",
    )


class Poles(Settings):
    """With two rotaries: tool axes along the axis of the first one, counted from the part. It is free there, and swings round near them."""

    past: Literal["slow", "refuse"] = Field(
        "refuse",
        description="Where a cut passes so near a pole that the first rotary swings round, and too far from it to go straight through "
        "within the axis tolerance: `slow`: as slow as the rotary's speed asks; `refuse`: refuse the toolpath where that is less than half "
        "of its feed.",
    )
    slowest_percent: Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)] = Field(
        5, description="With `slow`: a pass at less than this share of the toolpath's feed, percent, is refused. 0: none is."
    )
