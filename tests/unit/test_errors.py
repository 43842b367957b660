"""A message names file, place, what is wrong and the cure, however long its words are; and says the same as data."""

from __future__ import annotations

import pytest

from steadyrest.errors import LONGEST_SENTENCE, InputError, Place, Refused, SteadyrestError, cut, sentence, short


@pytest.mark.parametrize(
    ("place", "text"),
    [
        (Place(), ""),
        (Place(file="a.nc", line=3, column=7), "a.nc:3:7"),
        (Place(line=3, column=7), "line 3, column 7"),
        (Place(operation=2, operation_name="slot", angle_deg=90.0, move=5), "operation 2 'slot' at 90 degrees, move 5"),
        (Place(operation=2, plane=3, move=5), "operation 2 in plane 3, move 5"),
        (Place(file="a.toml", key="words.spaces"), "a.toml, words.spaces"),
    ],
)
def test_a_place_says_as_much_as_is_known(place: Place, text: str) -> None:
    assert text == str(place)
    assert place.before("wrong") == (f"{text}: wrong" if text else "wrong")


def test_a_file_once_named_stays() -> None:
    assert ("a.nc", "b.nc") == (Place(file="a.nc").within("b.nc").file, Place(line=1).within("b.nc").file)


def test_long_names_and_words_are_cut_and_paths_are_whole() -> None:
    assert ("x" * 80, "x" * 77 + "...") == (short("x" * 80), short("x" * 81))
    assert "see " + "x" * 60 + "..." + "x" * 20 == cut("see " + "x" * 300)
    path = "/".join(["folder"] * 60)
    assert path == cut(path)
    assert len(sentence("word " * 1000)) < LONGEST_SENTENCE


def test_all_that_is_wrong_is_said_each_with_its_cure() -> None:
    error = InputError("no", place=Place(line=1), cure="yes", also=[InputError("nor this")])
    assert "line 1: no\n  cure: yes\nnor this" == str(error)
    said = error.as_json()["error"]
    assert ("InputError", 1, "no", "yes", 1) == tuple(said[key] for key in ("kind", "exit_code", "wrong", "cure", "line"))
    assert ["nor this"] == [each["wrong"] for each in said["also"]]


def test_a_refusal_shows_its_screen_and_is_the_verdicts_data_with_the_error() -> None:
    refused = Refused("not proved", screen="line 3: off", found={"outcome": "stop"})
    assert "not proved\nline 3: off" == str(refused)
    assert ("stop", 3) == (refused.as_json()["outcome"], refused.as_json()["error"]["exit_code"])
    assert (1, 3) == (SteadyrestError.exit_code, Refused.exit_code)
