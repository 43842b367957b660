"""What a job keeps of touches stands in the form, and what stands in the form is what the job keeps."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as some

from steadyrest.errors import InputError
from steadyrest.inputs import BallTouched, Touched
from steadyrest.page.app import templates
from steadyrest.page.touches import ACROSS, ball_steps, entered, steps, touched

QUARTERS = (0.0, 90.0, 180.0, 270.0)
numbers = some.floats(-9_999, 9_999).map(lambda value: round(value, 4))
sizes = some.floats(0.001, 999).map(lambda value: round(value, 4))
pairs = some.tuples(numbers, numbers)
KEPT = some.fixed_dictionaries(
    {"units": some.sampled_from(["mm", "inch"])},
    optional={
        "diameter": sizes, "tool": sizes, "thickness": sizes, "at": numbers,
        "touch_error": sizes, "reading_error": sizes, "size_error": sizes,
        "top": some.lists(numbers, max_size=3), "faces": some.lists(pairs, max_size=2), "points": some.lists(pairs, max_size=6),
        "sides": numbers.map(lambda n: [("Y", n, -n)]), "flips": numbers.map(lambda n: [("Y", n, 1.0), ("Z", 2.0, n)]),
        "readings": some.lists(numbers, min_size=4, max_size=4).map(lambda r: [*zip(QUARTERS, r, strict=True), (45.0, r[0])]),
        "indicator": some.sampled_from(["+Z", "-Z", "+Y", "-Y"]), "flat": some.tuples(pairs, pairs),
        "end": some.lists(numbers, max_size=2).map(lambda n: [("+X", one) for one in n]), "chuck_face": numbers.map(lambda n: [("-X", n)]),
    },
)  # fmt: skip


@given(KEPT)
def test_what_is_kept_comes_back_through_the_form(said: dict[str, object]) -> None:
    kept = Touched.model_validate(said)
    assert kept == touched(Touched, entered(kept, steps("X")), steps("X"))


PLACES = some.fixed_dictionaries(
    {"units": some.sampled_from(["mm", "inch"])},
    optional={"balls": some.lists(some.tuples(*[numbers] * 4), max_size=6), "gauge_length": sizes, "touch_error": sizes},
)


@given(PLACES, some.booleans(), pairs)
def test_where_a_ball_was_found_comes_back_through_the_form(said: dict[str, object], in_head: bool, across: tuple[float, float]) -> None:
    if not in_head:
        said = {key: value for key, value in said.items() if key != "gauge_length"} | {"reference": (*across, 1.5)}
    kept, of = BallTouched.model_validate(said), ball_steps("C", in_head=in_head, upright=False)
    assert kept == touched(BallTouched, entered(kept, of), of)


def test_the_height_of_a_ball_may_stay_empty_where_the_rotary_is_along_z_and_nowhere_else() -> None:
    typed = {"units": "mm", "ball_1_at": "90", "ball_1_X": "3", "ball_1_Y": "4"}
    pin = touched(BallTouched, typed, ball_steps("C", in_head=False, upright=True))
    assert ((90, 3, 4),) == pin.balls
    assert pin == touched(
        BallTouched, entered(pin, ball_steps("C", in_head=False, upright=True)), ball_steps("C", in_head=False, upright=True)
    )
    with pytest.raises(InputError, match="A ball at several angles, Z: is missing"):
        touched(BallTouched, typed, ball_steps("A", in_head=False, upright=False))


@pytest.mark.parametrize("along", ["X", "Y", "Z"])
def test_every_entry_has_a_name_of_its_own_and_a_label(along: str) -> None:
    names = [one.name for step in steps(along) for row in step.entries for one in row]
    assert len(names) == len(set(names))
    assert all(one.label for step in steps(along) for row in step.entries for one in row)


def test_along_z_there_is_no_height_to_touch() -> None:
    assert not [one for step in steps("Z") for row in step.entries for one in row if one.name.startswith(("top", "face_"))]
    assert [one.name for one in steps("Z")[0].entries[-1]] == ["side_Y_1", "side_Y_2"]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"units": "cm"}, "units"),
        ({"units": "mm", "flip_Y_0": "1"}, "at 180 degrees, Y"),
        ({"units": "mm", "point_2_2": "1"}, "2: Y"),
        ({"units": "mm", "more_1": "1"}, "at another angle"),
        ({"units": "mm", "tool": "-3"}, "diameter of the tool that touched"),
        ({"units": "mm", "tool": "nan"}, "is not a number"),
        ({"units": "mm", "chuck_1": "3"}, "choose +X or -X"),
        ({"units": "mm", "indicator": "+Q"}, "indicator"),
    ],
)
def test_half_an_entry_or_no_number_is_told_by_its_label(typed: dict[str, str], words: str) -> None:
    with pytest.raises(InputError) as refused:
        touched(Touched, typed, steps("X"))
    assert words in str(refused.value)


def test_a_comma_is_a_decimal_point_and_a_field_that_the_form_does_not_have_is_left_aside() -> None:
    assert 12.5 == touched(Touched, {"units": "mm", "diameter": "12,5", "side_X_1": "3"}, steps("X")).diameter


def test_what_may_be_a_thousand_is_asked_about() -> None:
    with pytest.raises(InputError, match="'1,000' is not a number"):
        touched(Touched, {"units": "mm", "diameter": "1,000"}, steps("X"))


BALL_STEPS = [step for in_head in (False, True) for step in ball_steps("B", in_head=in_head, upright=False)]
EVERY = [(along, step.name) for along in "XYZ" for step in (*steps(along), *BALL_STEPS) if step.name != "errors"]
WIDTH, HEIGHT = 240, 170


def drawn(name: str, along: str) -> str:
    """The drawing of a step."""
    made: str = templates().get_template("touching.svg.j2").module.picture(name, along, *ACROSS[along])  # type: ignore[attr-defined]
    return made.strip()


@pytest.mark.parametrize(("along", "name"), EVERY)
def test_each_step_has_a_drawing_with_a_name_within_its_frame(along: str, name: str) -> None:
    root = ElementTree.fromstring(drawn(name, along))
    assert root.get("role") == "img"
    assert len(root.get("aria-label", "")) > 10
    for each in root.iter():
        for key, most in (("x", WIDTH), ("y", HEIGHT), ("cx", WIDTH), ("cy", HEIGHT)):
            assert 0 <= float(each.get(key, "0")) <= most, (each.tag, key)
        if each.tag == "circle":
            assert float(each.get("cy", "")) - float(each.get("r", "")) >= 0
        if each.tag == "g":
            x, y = map(float, re.findall(r"[0-9]+", each.get("transform", ""))[:2])
            assert 24 <= x <= WIDTH - 24
            assert 24 <= y <= HEIGHT - 24, "an arrow is 24 long"


@pytest.mark.parametrize("along", ["X", "Y", "Z"])
def test_the_section_shows_the_two_axes_that_lie_across(along: str) -> None:
    texts = [each.text for each in ElementTree.fromstring(drawn("bar", along)).iter("text") if each.get("class") == "axis"]
    assert list(ACROSS[along]) == texts
