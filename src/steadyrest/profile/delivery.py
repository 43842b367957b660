"""Under which names, and where, the machine takes programs."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from steadyrest.profile.base import Settings, impossible


class Delivery(Settings):
    """Where finished programs go, and what their names may look like there. The ending is `program.extension`."""

    folder: str = Field("", description="The folder, or mounted share, from which the machine reads; empty: said when delivering.")
    longest: int = Field(250, ge=1, le=250, description="The longest name of a program, without its ending.")
    characters: str = Field(
        "", description="The characters that the machine takes in a name, ending left aside; empty: all that the folder takes."
    )
    upper_case: bool = Field(False, description="Names and endings in capitals: small letters become capitals on the way.")

    @model_validator(mode="after")
    def _possible(self) -> Self:
        strange = sorted({each for each in self.characters if not "!" <= each <= "~" or each in "/\\"})
        if strange:
            raise impossible(
                f"{strange[0]!r} cannot stand in the name of a program",
                key="characters",
                cure="letters without accents, digits, and signs such as - and _; no space, no slash",
            )
        lacking = sorted({each.upper() for each in self.characters} - set(self.characters)) if self.upper_case else []
        if lacking:
            raise impossible(
                f"names are written in capitals, but {lacking[0]} is not among the characters", key="characters", cure="name the capitals"
            )
        return self
