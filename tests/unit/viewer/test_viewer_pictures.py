from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from math import degrees
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure
from viewer_parts import ALL_MOUNTINGS, CONTROLLERS, FLATS, LETTER, looked, mounted, part, program_of, slot_and_letter

from steadyrest.cli import main
from steadyrest.columns import Floats
from steadyrest.errors import InputError
from steadyrest.simulation import Side, stock_field
from steadyrest.toolpath import toolpath_text
from steadyrest.viewer import PICTURES, Looked, PictureOf, draw
from steadyrest.viewer.pictures import draw_map, in_sight
from steadyrest.viewer.views import lit_map, rgb, unrolled

CENTRE = np.zeros(3)


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    toolpath, program = tmp_path / "bar.toolpath.json", tmp_path / "bar.nc"
    toolpath.write_text("".join(toolpath_text(part())), encoding="utf-8")
    program.write_bytes(program_of(part()))
    return toolpath, program


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments])


@given(st.floats(-60, 0), st.floats(-60, 60), st.sampled_from("XY"))
def test_the_map_shows_a_developed_drawing_as_it_was_drawn(along: float, developed: float, axis: str) -> None:
    # Contract of the frames: about X alpha = -y/r, about Y alpha = x/r; the tool then stands at R(alpha)(0, 0, r).
    radius = 20.0
    alpha = -developed / radius if axis == "X" else developed / radius
    point = (
        [along, -radius * np.sin(alpha), radius * np.cos(alpha)] if axis == "X" else [radius * np.sin(alpha), along, radius * np.cos(alpha)]
    )
    found = unrolled(np.array([point]), CENTRE, axis)[0]
    assert pytest.approx(along, abs=1e-9) == found[0 if axis == "X" else 1]
    turn = (found[1 if axis == "X" else 0] - degrees(alpha) + 180) % 360 - 180
    assert pytest.approx(0, abs=1e-6) == turn


@pytest.mark.parametrize(("axis", "row", "column"), [("X", 5, 2), ("Y", 7, 5), ("Z", 6, 2)])
def test_each_cell_of_the_field_has_its_place_on_the_map(axis: str, row: int, column: int) -> None:
    # Cell (2, 5) of 10 by 12: about X to the right and down, about Y up and to the right, about Z to the right and up.
    stock = {"shape": "rectangular", "across": [30, 30], "from": -60, "to": 0}
    field = stock_field(part({**FLATS, "rotary": {"intent": "still"}}, axis=axis, stock=stock), 10, 12)
    field.outer_mm[2, 5] = 0
    picture = lit_map(field, np.zeros(field.shape, dtype=np.uint16), np.ones((1, 3)), np.zeros(1, dtype=np.int64), 20.0)
    assert (row, column) == tuple(int(at) for at in np.argwhere(picture[..., 3] == 0)[0])


@pytest.mark.parametrize("axis", ["X", "Y"])
def test_the_drawn_surface_lies_where_the_field_says(axis: str) -> None:
    stock = {"shape": "rectangular", "across": [30, 20], "from": -60, "to": 0}
    field = stock_field(part({**FLATS, "rotary": {"intent": "still"}}, axis=axis, stock=stock), 8, 360)
    across = Side.of(field, np.zeros(field.shape, dtype=np.uint16)).points()[..., [1, 2] if axis == "X" else [0, 2]]
    assert pytest.approx(15, abs=1e-3) == np.abs(across[..., 0]).max()
    assert pytest.approx(10, abs=1e-3) == np.abs(across[..., 1]).max()


@pytest.mark.parametrize(("axis", "face", "turns"), ALL_MOUNTINGS)
def test_the_unrolled_surface_lies_under_the_path_and_both_on_the_scale(axis: str, face: str, turns: str) -> None:
    seen = looked(slot_and_letter(axis), None, *mounted(axis, face, turns), controller=CONTROLLERS[axis], cells=(120, 360))
    figure = Figure()
    draw_map(figure, seen)
    (axes,) = figure.axes

    def operation_at(right: float, up: float) -> int:
        """Whose colour the drawn surface has there, in the numbers of the scale."""
        for drawn in axes.images:
            left, to, low, high = drawn.get_extent()
            rows, columns = drawn.get_array().shape[:2]
            across, down = (right - left) / (to - left), (high - up) / (high - low)
            if 0 <= across < 1 and 0 <= down < 1:
                colour = drawn.get_array()[int(down * rows), int(across * columns), :3]
                return int(np.argmin([1 - colour @ one / np.linalg.norm(colour) / np.linalg.norm(one) for one in _directions(seen)]))
        raise AssertionError(f"nothing is drawn at {right}, {up}")

    # Where the design has the slot's middle, the foot and the arm's end of the F, in the numbers of the scale; right and up on the drawing.
    degree = np.radians(20)
    slot, foot, arm = {
        "X": ((-10, 90), (-50, 200 + 6 / degree), (-42, 200 - 6 / degree)),
        "Y": ((90, -10), (200 - 4 / degree, -36), (200 + 4 / degree, -24)),
        "Z": ((0, 15), (-4, -6), (4, 6)),
    }[axis]
    assert [1, 2, 2] == [operation_at(*one) for one in (slot, foot, arm)]
    mirrored = {"X": (-42, foot[1]), "Y": (arm[0], -36), "Z": (4, -6)}[axis]
    assert 0 == operation_at(*mirrored)
    lines = np.concatenate([np.array(one.get_segments()) for one in axes.collections[1:]])
    assert [True] * 3 == [_off(lines, np.array(place)).min() < 0.02 for place in (slot, foot, arm)]
    # One scale along and around.
    assert pytest.approx({"X": degree, "Y": 1 / degree, "Z": 1}[axis]) == axes.get_aspect()


def _directions(seen: Looked) -> list[Floats]:
    return list(rgb(seen.colours))


def _off(lines: Floats, place: Floats) -> Floats:
    """How far a place is from each line (k, 2, 2)."""
    go, away = lines[:, 1] - lines[:, 0], place - lines[:, 0]
    share = np.clip((away * go).sum(axis=1) / np.maximum((go**2).sum(axis=1), 1e-12), 0, 1)
    return np.asarray(np.linalg.norm(away - share[:, None] * go, axis=1))


@pytest.mark.parametrize("of", PICTURES)
def test_a_picture_is_a_png_of_the_size_asked_for(of: PictureOf) -> None:
    content = draw(looked(), of, "png", inches=(4, 3))
    # W3C and ISO/IEC 15948, Portable Network Graphics: signature, then IHDR with width and height.
    assert b"\x89PNG\r\n\x1a\n" == content[:8]
    assert (600, 450) == (int.from_bytes(content[16:20], "big"), int.from_bytes(content[20:24], "big"))


@pytest.mark.parametrize("of", PICTURES)
def test_a_picture_as_svg_is_the_same_every_time_and_asks_for_nothing(of: PictureOf) -> None:
    seen = looked()
    content = draw(seen, of, "svg")
    assert content == draw(seen, of, "svg")
    links = [value for one in ElementTree.fromstring(content).iter() for name, value in one.attrib.items() if name.endswith("href")]
    assert [] == [link for link in links if not link.startswith(("#", "data:"))]


def test_names_from_outside_are_text_in_a_picture() -> None:
    name = "<script>$\\frac{1}{0}$</script>"
    content = draw(looked(part(FLATS | {"name": name}, LETTER, name=name)), "unrolled", "svg")
    tree = ElementTree.fromstring(content)
    assert [] == [one for one in tree.iter() if one.tag.endswith("script")]
    assert any(name in "".join(one.itertext()) for one in tree.iter() if one.tag.endswith("text"))


def test_without_stock_there_is_no_picture_of_the_part() -> None:
    with pytest.raises(InputError, match="no stock"):
        draw(looked(part(FLATS, stock=None, clearance=30)), "part", "png")


def test_every_axis_can_be_drawn() -> None:
    still = FLATS | {"rotary": {"intent": "still"}}
    for axis, controller in (("Y", "rs274ngc-b"), ("Z", "upright-c")):
        stock = {"shape": "round", "diameter": 40, "from": -20, "to": 20}
        moves = [{"rapid": [0, 0, 40]}, {"cut": [0, 0, 18], "feed": 100}, {"cut": [5, 5, 18]}, {"rapid": [5, 5, 40]}]
        seen = looked(part(still | {"moves": moves}, axis=axis, stock=stock), controller=controller)
        for of in PICTURES:
            assert draw(seen, of, "png", inches=(4, 3))


def test_report_from_a_toolpath_alone_is_written_and_proved(files: tuple[Path, Path], tmp_path: Path) -> None:
    done = run("report", files[0], "--cells", "32x64", "-o", tmp_path / "out.html")
    assert 0 == done.exit_code, done.output
    page = (tmp_path / "out.html").read_text(encoding="utf-8")
    assert 'class="verdict look"' in page
    assert 'class="setup-sheet"' in page


def test_report_on_a_program_that_is_refused_is_written_and_ends_with_3(files: tuple[Path, Path], tmp_path: Path) -> None:
    toolpath, program = files
    program.write_bytes(program.read_bytes().replace(b"X-20", b"X-21", 1))
    done = run("report", program, "-t", toolpath, "--cells", "32x64", "-o", tmp_path / "out.html", "--json")
    assert 3 == done.exit_code, done.output
    page = (tmp_path / "out.html").read_text(encoding="utf-8")
    assert 'class="verdict stop"' in page
    assert page.count('class="stop-across"') == 2, "on the page and across its setup sheet"


def test_report_as_json_has_the_findings(files: tuple[Path, Path], tmp_path: Path) -> None:
    done = run("report", files[1], "-t", files[0], "--cells", "32x64", "-o", tmp_path / "out.html", "--json")
    data = json.loads(done.stdout)
    assert data["proved"] is True
    assert isinstance(data["findings"], list)


def test_a_program_that_is_no_program_is_an_error_and_leaves_no_page(files: tuple[Path, Path], tmp_path: Path) -> None:
    files[1].write_text("G1 X1E5\n")
    done = run("report", files[1], "-t", files[0], "-o", tmp_path / "out.html")
    assert 1 == done.exit_code
    assert "bar.nc" in done.output
    assert not (tmp_path / "out.html").exists()


def test_a_program_that_is_not_there_is_an_error(files: tuple[Path, Path], tmp_path: Path) -> None:
    done = run("report", tmp_path / "none.nc", "-t", files[0], "-o", tmp_path / "out.html")
    assert 1 == done.exit_code
    assert "cannot be read" in done.output


@pytest.mark.parametrize("cells", ["12", "1x9", "ax9", "9x9x9"])
def test_cells_that_are_no_two_numbers_are_wrong_usage(files: tuple[Path, Path], tmp_path: Path, cells: str) -> None:
    assert 2 == run("report", files[0], "--cells", cells, "-o", tmp_path / "out.html").exit_code


@pytest.mark.parametrize("of", PICTURES)
@pytest.mark.parametrize("ending", [".png", ".svg"])
def test_pictures_come_from_the_command_line(files: tuple[Path, Path], tmp_path: Path, of: str, ending: str) -> None:
    output = tmp_path / f"out{ending}"
    done = run("picture", files[1], "-t", files[0], "--of", of, "--cells", "32x64", "-o", output)
    assert 0 == done.exit_code, done.output
    assert output.stat().st_size > 1000


def test_a_picture_in_another_form_is_an_error(files: tuple[Path, Path], tmp_path: Path) -> None:
    done = run("picture", files[0], "--cells", "32x64", "-o", tmp_path / "out.gif")
    assert 1 == done.exit_code
    assert ".png or .svg" in done.output


def test_an_operations_number_stands_on_a_place_of_its_own_that_nothing_hides() -> None:
    # Two sheets, one behind the other: 1 in front to the left, 2 behind both and seen on the right alone; 3 hidden whole.
    x, y = (each.ravel() for each in np.meshgrid(np.linspace(0, 4, 81), np.linspace(0, 4, 81)))
    front = x < 2
    middles = np.concatenate([np.column_stack([x, y, depth + 0 * x])[chosen] for depth, chosen in ((0, front), (5, ~(x > 9)), (9, front))])
    last = np.concatenate([np.full(front.sum(), 1), np.full(len(x), 2), np.full(front.sum(), 3)])
    found = in_sight(middles, last)
    assert {1, 2} == set(found)
    assert found[1][0] == pytest.approx(1, abs=0.1)
    assert found[2][0] == pytest.approx(3, abs=0.1)


@pytest.mark.parametrize("of", ["part", "unrolled"])
def test_the_numbers_of_the_operations_are_on_the_picture_itself(of: PictureOf) -> None:
    svg = draw(looked(), of, "svg", bare=True).decode()
    assert {"1", "2"} <= set(re.findall(r">(\d)</text>", svg))
