"""What every group of settings has in common: frozen, and closed to keys it does not know."""

from collections.abc import Callable
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

Code = Annotated[str, StringConstraints(pattern=r"^([A-Z]\d{1,4}(\.\d)?)?$")]
"""One word of a program such as `G94` or `M8`, spelled as it is to be written; empty: the controller has no such code."""

Letter = Annotated[str, StringConstraints(pattern=r"^[A-Z]$")]
LinearLetter = Literal["X", "Y", "Z"]
RotaryLetter = Literal["A", "B", "C"]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]

PATTERNS = {
    r"^([A-Z]\d{1,4}(\.\d)?)?$": "a code: one capital letter and a number, such as G94 or M8; empty for none",
    r"^[A-Z]$": "one capital letter",
    r"^[A-Z]*$": "capital letters, such as XYZ; empty for none",
    r"^[A-Z]+$": "capital letters, each one word's letter",
    r"^[A-Z:]?$": "one capital letter or a colon; empty for none",
    r"^[GM]\d{1,4}(\.\d)?$": "a G or M code, such as M8",
    r"^[GM]\d{1,4}(\.\d)?( [GM]\d{1,4}(\.\d)?)*$": "G and M words with one space between them, such as G17 G40, and nothing that moves",
    r"^\.[A-Za-z0-9]{1,8}$": "a point and up to eight letters or digits, such as .nc",
    r"^[!-~]*$": "printable characters without spaces; empty for none",
}
"""What the patterns of settings ask for, in words."""


class Settings(BaseModel):
    """A group of settings. Lengths are mm and angles degrees, whatever units the program is written in."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=False, str_strip_whitespace=False, validate_default=True, defer_build=True
    )

    @model_validator(mode="after")
    def _possible(self) -> Self:
        self._check()
        return self

    def _check(self) -> None:
        """Raise `impossible` where settings of the group are each allowed but not together."""


def impossible(sentence: str, *, key: str, cure: str = "") -> PydanticCustomError:
    """Settings that are each allowed but not together: the sentence, the key (dotted, within the group), and the cure."""
    return PydanticCustomError("rule", "{wrong}", {"wrong": sentence, "key": key, "cure": cure})


def check_characters(characters: str, allowed: Callable[[str], bool], wrong: str, cure: str, *, upper_case: bool) -> None:
    """Raise `impossible` for a character of the setting `characters` that is not allowed, or for a capital that it lacks."""
    if strange := sorted(each for each in set(characters) if not allowed(each)):
        raise impossible(f"{strange[0]!r} is not allowed in {wrong}", key="characters", cure=cure)
    if upper_case and (lacking := sorted(set(characters.upper()) - set(characters))):
        raise impossible(
            f"capitals are written, but {lacking[0]} is not one of the allowed characters", key="characters", cure="add the capitals"
        )
