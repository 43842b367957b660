"""Controls from a model, and what was typed on the way back."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from steadyrest.conventions import HOW_TO_TYPE
from steadyrest.inputs import InputOptions, PartOptions
from steadyrest.page import part
from steadyrest.page.fields import LABELS, controls, number_of, read, written, wrongs_of
from steadyrest.toolpath import FlatTool, Held, RoundStock


def test_controls_have_label_unit_hint_and_choices() -> None:
    found = controls(PartOptions, "", {"units": "inch"}, {}, units="inch", only=("units", "clearance", "name"))
    assert ("choice", "inch", [("", "not said"), ("mm", "mm"), ("inch", "inch")]) == (
        found["units"].kind, found["units"].value, list(found["units"].choices)
    )  # fmt: skip
    assert ("number", "inch", "Clearance") == (found["clearance"].kind, found["clearance"].unit, found["clearance"].label)
    assert found["clearance"].hint.startswith("Distance from the axis")
    assert "degrees" == controls(InputOptions, "", {}, {}, units="mm", only=("indexed",))["indexed"].unit


@given(diameter=st.floats(0.001, 1e6), number=st.integers(1, 999), name=st.text("abc -", max_size=9).map(str.strip))
def test_what_stands_in_a_file_comes_back_as_it_was(diameter: float, number: int, name: str) -> None:
    said = {"number": number, "shape": "flat", "diameter": diameter, **({"name": name} if name else {})}
    assert said == read(FlatTool, "tool.1.", written("tool.1", said), only=said)


def test_several_numbers_come_from_their_own_controls() -> None:
    typed = {"centre.0": "1", "centre.1": "", "centre.2": "-3.5"}
    assert {"centre": [1, "", -3.5]} == read(PartOptions, "", typed, only=("centre",))
    assert {} == read(PartOptions, "", dict.fromkeys(typed, ""), only=("centre",))


def test_a_text_that_is_no_number_stays_and_the_model_says_so_at_its_control() -> None:
    stock = {
        "shape": "round",
        **read(RoundStock, "stock.", {"stock.diameter": "6mm", "stock.from": "-90"}, only=("diameter", "from", "to")),
    }
    assert "6mm" == stock["diameter"]
    wrong = wrongs_of(RoundStock, "stock.", stock)
    assert {"stock.diameter", "stock.to"} == wrong.keys()
    assert "this is missing" == wrong["stock.to"][0]


def test_a_decimal_comma_is_a_point_unless_it_may_part_thousands() -> None:
    assert [6.5, 0.125, -0.5, 1234.125, 12.5] == [number_of(each) for each in ("6,5", "0,125", "-,5", "1234,125", "12,5000")]
    for said in ("1,000", "12,500", "-1,000", "1,000,000", "1,000.5"):
        assert said == number_of(said)
    data = {"shape": "round", **read(RoundStock, "stock.", {"stock.diameter": "1,000", "stock.from": "-90", "stock.to": "0"})}
    wrong, cure = wrongs_of(RoundStock, "stock.", data)["stock.diameter"]
    assert "1,000" in wrong
    assert HOW_TO_TYPE == cure


def test_a_comma_among_angles_is_asked_about_where_it_may_be_a_decimal_one() -> None:
    def angles(said: str) -> object:
        return read(InputOptions, "", {"indexed": said}, only=("indexed",))["indexed"]

    assert [0, 120, 240] == angles("0,120,240") == angles("0, 120, 240") == angles("0 120 240")
    assert [22.5, 67.5] == angles("22.5, 67.5")
    for said in ("22,5", "22,5 67,5", "22,5, 67,5", "0;22,5"):
        assert said == angles(said)
        assert "22.5 67.5" in wrongs_of(InputOptions, "", {"indexed": said})["indexed"][1]


def test_whole_numbers_stay_whole() -> None:
    assert [3, 3, 0.5, "1e", "--2"] == [number_of(each) for each in ("3", "3.0", ".5", "1e", "--2")]
    assert isinstance(number_of("3"), int)


def test_no_label_is_left_over_and_none_says_what_its_key_says() -> None:
    asked = {*part.PART_FIELDS, *part.WRAP_FIELDS, "at", "held.length"}
    for fields in (*part.STOCK_FIELDS.values(), *part.TOOL_FIELDS.values(), *part.INPUT_FIELDS.values()):
        asked.update(fields)
    assert set() == LABELS.keys() - asked
    assert [] == [key for key, label in LABELS.items() if label == key.replace("_", " ").capitalize()], "the key says it already"
    assert {"at", "length"} == Held.model_fields.keys()


def test_a_label_says_of_which_length_it_is() -> None:
    held = controls(Held, "stock.held.", {}, {}, units="mm")["length"]
    tool = controls(FlatTool, "tool.7.", {}, {}, units="mm", only=("length",))["length"]
    assert ("Length in the jaws", "Length from the tip to the holder") == (held.label, tool.label)


def test_a_hint_asks_for_no_quotes() -> None:
    assert "4 x 90 is 0, 90, 180, 270" in controls(InputOptions, "", {}, {}, units="mm", only=("indexed",))["indexed"].hint
