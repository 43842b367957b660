"""What is said once, and how sure a touch is where nobody says it."""

from pathlib import Path

import pytest

from steadyrest.centre import say_once, stated_by, uncertainties, usual, usual_file
from steadyrest.errors import InputError


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))


def test_what_is_said_is_kept_and_the_rest_stays() -> None:
    say_once("inch", None)
    assert ("inch", "rs274ngc") == ((now := say_once(None, "rs274ngc")).units, now.machine)
    assert now == usual()


@pytest.mark.parametrize("text", ['units = "feet"', "machine = 3", "units = "])
def test_a_file_that_says_something_else_is_refused(text: str) -> None:
    usual_file().parent.mkdir(parents=True)
    usual_file().write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        usual()
    assert str(usual_file()) == caught.value.place.file
    assert caught.value.cure


def test_uncertainties_are_in_the_units_of_the_touches_unless_said() -> None:
    assert (0.01, 0.003, 0.003) == uncertainties("mm", None, None, None)
    assert pytest.approx((0.01 / 25.4, 0.5, 0.003 / 25.4)) == uncertainties("inch", None, 0.5, None)


def test_the_sense_of_a_rotary_is_known_only_along_its_axis() -> None:
    assert (None, "") == stated_by(None, (), "X")
    sense, offset = stated_by("rs274ngc", (), "X")
    assert sense in (1, -1)
    assert (None, offset) == stated_by("rs274ngc", (), "Y")
