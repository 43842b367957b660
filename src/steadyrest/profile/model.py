"""The controller profile: one controller's language on one machine, as frozen data; and its JSON schema."""

from typing import Any

from pydantic import Field

from steadyrest.errors import Place, ProfileError
from steadyrest.profile.axes import SAME_FACT, Arcs, Feed, LinearAxis, Poles, Positions, Reorient, Rotary, Safety
from steadyrest.profile.base import LinearLetter, RotaryLetter, Settings, check_characters
from steadyrest.profile.chain import chain_of, has_one_in_table
from steadyrest.profile.codes import Codes, Coolant, Cycles, Retract, Spindle, Stops, ToolChange, Units
from steadyrest.profile.combinations import check_combinations
from steadyrest.profile.format import Numbers, Program, Words


class Delivery(Settings):
    """Where finished programs go, and what their names may look like there. The ending is `program.extension`."""

    folder: str = Field("", description="The folder, or mounted share, from which the machine reads; empty: given when delivering.")
    longest: int = Field(250, ge=1, le=250, description="The longest name of a program, without its ending.")
    characters: str = Field(
        "", description="The characters that the machine takes in a name, ending left aside; empty: all that the folder takes."
    )
    upper_case: bool = Field(False, description="Names and endings in capitals: small letters become capitals on the way.")

    def _check(self) -> None:
        cure = "use letters without accents, digits, and signs such as - and _; no space, no slash"
        wrong, signs = "the name of a program", set("/\\")
        check_characters(self.characters, lambda each: "!" <= each <= "~" and each not in signs, wrong, cure, upper_case=self.upper_case)


class Profile(Settings):
    """Everything that writing and reading a program have to know about a controller. Resolved: `extends` is done with."""

    name: str = Field(description="The name of the profile's folder.")
    speaks: str = Field(min_length=8, description="One sentence: what the controller speaks and what is special about it.")
    program: Program = Program.model_construct()
    numbers: Numbers = Numbers.model_construct()
    words: Words = Words.model_construct()
    units: Units = Units.model_construct()
    codes: Codes = Codes.model_construct()
    tool: ToolChange = ToolChange.model_construct()
    spindle: Spindle = Spindle.model_construct()
    coolant: Coolant = Coolant.model_construct()
    stops: Stops = Stops.model_construct()
    retract: Retract = Retract.model_construct()
    cycles: Cycles = Cycles.model_construct()
    arcs: Arcs = Arcs.model_construct()
    feed: Feed = Feed.model_construct()
    chain: str = Field(
        "",
        description='From the part to the spindle, read aloud at the machine, such as "part C A bed spindle": A on the bed carries C, and '
        "C the part. Empty: the rotary stands in the table by itself; of several, each is one that may be mounted.",
    )
    rotary: dict[RotaryLetter, Rotary] = Field({}, description="The rotary, by its letter.")
    linear: dict[LinearLetter, LinearAxis] = Field({}, description="The linear axes, by letter; those left out have the defaults.")
    positions: Positions = Positions.model_construct()
    reorient: Reorient = Reorient.model_construct()
    poles: Poles = Poles.model_construct()
    safety: Safety = Safety.model_construct()
    delivery: Delivery = Delivery.model_construct()

    def _check(self) -> None:
        check_combinations(self)


def rotaries_of(profile: Profile, axis: str | None = None, letter: str | None = None) -> dict[RotaryLetter, Rotary]:
    """The rotaries that a program of a profile turns, by their letters, counted from the part to the spindle: asked here and nowhere else.

    Where the profile states a chain of two rotaries, or of a head, those of the chain, whatever the axis of the toolpath. Else each stands
    in the table by itself, in the profile's order:

    axis      the linear axis, X, Y or Z, about which the part turns: those mounted along it, at most one. None: it is not known, and
              every rotary may be meant
    letter    that of the rotary which is named: that one alone
    raises    ProfileError for a letter that the profile lacks, or whose rotary turns about another axis
    """
    chain = chain_of(profile)
    if chain is not None and not has_one_in_table(profile):
        return {name: profile.rotary[name] for name in chain.letters}  # type: ignore[index, misc]
    if letter is None:
        return {name: rotary for name, rotary in profile.rotary.items() if axis is None or rotary.along == axis}
    found = {name: rotary for name, rotary in profile.rotary.items() if name == letter}
    if not found:
        cure = f"it has {rotaries_text(profile)}"
        raise ProfileError(f"the profile '{profile.name}' has no rotary {letter}", place=Place(key="rotary"), cure=cure)
    for rotary in found.values():
        if axis not in (None, rotary.along):
            wrong = f"the rotary {letter} turns about {rotary.along}, but the toolpath's axis of rotation is {axis}"
            raise ProfileError(wrong, place=Place(key=f"rotary.{letter}.along"), cure="use a rotary along the toolpath's axis")
    return found


def rotary_along(profile: Profile, axis: str) -> tuple[RotaryLetter, Rotary] | None:
    """The rotary that turns the part about a linear axis, X, Y or Z, with its letter; None where none in the table does."""
    chain = chain_of(profile)
    found = ((name, each) for name, each in profile.rotary.items() if each.along == axis and each.leans is None)
    return next((one for one in found if chain is None or one[0] in chain.part), None)


def rotaries_text(profile: Profile) -> str:
    """The rotaries that a profile has, to be listed in a sentence: "A along X, B along Y", or "none"."""
    return ", ".join(f"{letter} along {rotary.along}" for letter, rotary in profile.rotary.items()) or "none"


def profile_schema() -> dict[str, Any]:
    """The JSON schema of one controller.toml. Nothing is required: a profile states only what differs from its parent."""
    schema = Profile.model_json_schema(by_alias=True)
    for group in (schema, *schema["$defs"].values()):
        group.pop("required", None)
    rotary = schema["$defs"]["Rotary"]["properties"]
    for spelling, kept in SAME_FACT.items():
        rotary[spelling] = {**rotary[kept], "title": spelling, "description": f"The same fact as `{kept}`, said of any rotary."}
    properties = schema["properties"]
    del properties["name"]
    for each in properties.values():
        each.pop("default", None)  # the groups' own settings carry their defaults
    schema["properties"] = {
        "extends": {
            "type": "string",
            "minLength": 1,
            "description": "The parent: the name of a profile, or the path of its folder. Everything of it holds that is not stated here.",
        },
        "drop": {
            "type": "array",
            "items": {"type": "string"},
            "description": "Dotted keys of the parent that do not hold here, such as rotary.A; they go back to the built-in default.",
        },
        **properties,
    }
    schema["title"] = "steadyrest controller profile"
    schema["description"] = "controller.toml: one controller's dialect on one machine. Lengths in mm, angles in degrees."
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
