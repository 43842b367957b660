"""Refusals of models in the user's words: the place without what no file holds, the sentence, the cure."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from steadyrest.model_errors import nearest, shown, spot_of, told


class Group(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class Bar(Group):
    shape: Literal["bar"]
    diameter: float = Field(default=1.0, ge=1e-9, description="Across, in mm.")


class Block(Group):
    shape: Literal["block"]
    across: tuple[float, float] = Field(default=(1.0, 1.0), description="Both ways, in mm.")


class Plan(Group):
    stock: Annotated[Bar | Block, Field(discriminator="shape")] | None = None
    tools: list[Annotated[Bar | Block, Field(discriminator="shape")]] = []
    by_letter: dict[str, Bar] = {}
    chosen: tuple[int | str, ...] = ()
    starts: float = Field(default=0, alias="from", description="Where it starts.")
    code: str = Field(default="M3", pattern="^M[0-9]$")


CASES = {
    "a tag of a union is no key": ({"stock": {"shape": "bar", "diameter": "1"}}, ("stock", "diameter")),
    "nor is one in a list": ({"tools": [{"shape": "block", "across": (1.0, "1")}]}, ("tools", 0, "across", 1)),
    "nor the kind of a value": ({"chosen": (1.5,)}, ("chosen", 0)),
    "a letter of a table is one": ({"by_letter": {"A": {"shape": "bar", "diameter": 0.0}}}, ("by_letter", "A", "diameter")),
    "a key is spelled as in the file": ({"from": "1"}, ("from",)),
}


def refused(data: object) -> ValidationError:
    with pytest.raises(ValidationError) as caught:
        Plan.model_validate(data)
    return caught.value


@pytest.mark.parametrize(("data", "keys"), CASES.values(), ids=CASES)
def test_the_keys_of_a_place_are_those_of_the_file(data: object, keys: tuple[int | str, ...]) -> None:
    assert keys == spot_of(Plan, refused(data).errors()[0]["loc"]).keys


@pytest.mark.parametrize(
    ("data", "wrong", "cure"),
    [
        ({"stok": 1}, "unknown key 'stok'; allowed are stock, tools, by_letter, chosen, from, code", "did you mean 'stock'?"),
        ({"stock": {"shape": "bar", "diameter": "1"}}, 'found "1"; allowed is a number', "write a number, without quotes: Across, in mm."),
        (
            {"stock": {"shape": "bar", "diameter": 0.0}},
            "found 0.0; it has to be more than 0, at least 1e-09",
            "correct the number: Across, in mm.",
        ),
        ({"stock": {"shape": "block", "across": (1.0,)}}, "a number is missing: found [1.0]", "give all the numbers: Both ways, in mm."),
        ({"stock": {"shape": "blok"}}, "shape 'blok' is not known; allowed are bar, block", "did you mean 'block'?"),
        ({"stock": {}}, "'shape' is missing", "add 'shape'"),
        ({"by_letter": {"A": 3}}, "found 3; allowed is a table", "write a table"),
        ({"code": "G1"}, 'found "G1"; allowed is an M code', "write an M code"),
        ({"from": 10**400}, f"found {'1' + '0' * 56}...; allowed is a finite number", "write a finite number: Where it starts."),
    ],
)
def test_the_sentence_says_what_was_found_and_allowed_and_the_cure_what_is_meant(data: object, wrong: str, cure: str) -> None:
    detail = refused(data).errors()[0]
    assert (wrong, cure) == told(detail, spot_of(Plan, detail["loc"]), "a table", {"^M[0-9]$": "an M code"})


def test_names_are_near_without_regard_to_capitals_the_most_similar_first() -> None:
    assert ["Spaces", "space_x"] == nearest("SPACE", ["space_x", "Spaces", "order"])
    assert [] == nearest("colour", ["X", "Y"])


def test_a_value_is_shown_as_in_a_file_and_shortened() -> None:
    assert ("true", '"é"', "inf", "[0, 1.5]") == (shown(True), shown("é"), shown(float("inf")), shown((0, 1.5)))
    assert 60 == len(shown("x" * 100))
