"""Part: what is missing is asked for at its place, and all that is said is in the job file that the command line reads."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from httpx2 import Response
from page_client import JOB, value_of
from starlette.testclient import TestClient

from steadyrest.inputs import load_job
from steadyrest.posting import post_to_memory
from steadyrest.request import Request

SLOT = """PARTNO/OWN SLOT
UNITS/MM
LOADTL/7
SPINDL/3000,CLW
MULTAX/ON
RAPID
GOTO/-10,-30,0,0,-1,0
RAPID
GOTO/-10,-22,0,0,-1,0
FEDRAT/200
GOTO/-10,-18,0,0,-1,0
GOTO/-30,-18,0,0,-1,0
RAPID
GOTO/-30,-30,0,0,-1,0
FINI
"""
"""A slot at 90 degrees, of a tool that nobody describes, and no stock."""


@pytest.fixture
def slot(page: TestClient) -> str:
    """The address of a job that was begun by dropping it."""
    answer = page.post("new", files={"dropped": ("slot.cl", SLOT.encode())}, data={"name": "slot"})
    assert 303 == answer.status_code
    return "part?job=slot.job.toml"


def test_what_is_missing_is_asked_for_and_what_is_said_makes_a_job_that_posts(page: TestClient, parts: Path, slot: str) -> None:
    text = page.get(slot).text
    assert "the shape of tool 7" in text
    assert "the stock, or a clearance" in text
    assert "indexed at 90" in text
    said = {"seen": value_of(text, "seen"), "name": "slot", "tool.7.shape": "drill", "tool.7.diameter": "6mm", "stock.shape": "round"}
    answer = page.post(slot, data=said)
    assert 422 == answer.status_code
    assert 'value="6mm"' in answer.text, "what was typed stays"
    assert answer.text.count('aria-invalid="true"') >= 4, "a unit, the point angle, and the sizes of the stock"
    assert "tools" not in (parts / "slot.job.toml").read_text()
    said |= {"tool.7.shape": "flat", "tool.7.diameter": "6", "stock.diameter": "40", "stock.from": "-90", "stock.to": "0"}
    said |= {"stock.held.at": "from", "stock.held.length": "20"}
    assert 303 == page.post(slot, data=said).status_code
    assert "The part is whole" in page.get(slot).text
    posted, program = post_to_memory(Request(parts / "slot.job.toml").with_job())
    assert posted.verdict.proved
    assert b"A90" in program


def test_a_change_keeps_comments_and_changes_no_other_line(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text("# by hand\n" + job.read_text())
    before = job.read_text()
    text = page.get(f"part?job={JOB}").text
    fields = dict(re.findall(r'<input [^>]*name="([^"]+)"[^>]*value="([^"]*)"', text))
    fields |= dict(re.findall(r'name="([^"]+)" value="([^"]+)" checked', text))
    for name, options in re.findall(r'<select [^>]*name="([^"]+)"[^>]*>(.*?)</select>', text, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        fields[name] = chosen[1] if chosen else ""
    assert 303 == page.post(f"part?job={JOB}", data=fields).status_code
    assert before == job.read_text(), "kept as it is, nothing changes"
    fields["seen"] = value_of(page.get(f"part?job={JOB}").text, "seen")
    assert 303 == page.post(f"part?job={JOB}", data={**fields, "stock.diameter": "41", "tool.1.length": "30"}).status_code
    gone = [line for line in before.splitlines() if line not in job.read_text().splitlines()]
    assert 1 == len(gone)
    assert "diameter = 40" in gone[0]
    changed = load_job(job)
    assert changed.stock is not None
    assert (41, 30) == (changed.stock.diameter, changed.tools[0].length)  # type: ignore[union-attr]


def test_inputs_are_moved_and_taken_away(page: TestClient, parts: Path) -> None:
    def order() -> list[str]:
        return [each.file.name for each in load_job(parts / JOB).inputs]

    def do(what: str, at: int) -> int:
        seen = value_of(page.get(f"part?job={JOB}").text, "seen")
        return page.post(f"part/order?job={JOB}", data={"seen": seen, "do": f"{what} {at}", "name": "kept too"}).status_code

    assert ["face.nc", "letters.nc"] == order()
    assert 303 == do("down", 0)
    assert ["letters.nc", "face.nc"] == order()
    assert "kept too" == load_job(parts / JOB).name, "what was typed beside it"
    assert 303 == do("remove", 0)
    assert ["face.nc"] == order()
    assert 422 == do("remove", 0)
    assert 422 == do("up", 7)


def test_inputs_are_added_and_comments_move_with_theirs(page: TestClient, parts: Path) -> None:
    job = parts / "two.job.toml"
    inputs = '[[inputs]]\nfile = "faces.cl" # one\n# two\nunits = "mm"\n\n[[inputs]]\nfile = "face.nc"\n'
    job.write_text(f"steadyrest_job = 1\nclearance = 40\n\n{inputs}")
    address = "part/order?job=two.job.toml"

    def do(what: str, **said: str) -> Response:
        seen = value_of(page.get("part?job=two.job.toml").text, "seen")
        return page.post(address, data={"seen": seen, "clearance": "40", "input.0.units": "mm", "do": what, **said})

    assert 303 == do("down 0").status_code
    assert job.read_text().index("face.nc") < job.read_text().index("# one") < job.read_text().index("# two")
    seen = value_of(page.get("part?job=two.job.toml").text, "seen")
    sent = {"seen": seen, "clearance": "40", "input.1.units": "mm", "do": "add", "add": "letters.nc"}
    assert 303 == page.post(address, data=sent, files={"dropped": ("own.cl", SLOT.encode())}).status_code
    assert ["face.nc", "faces.cl", "own.cl", "letters.nc"] == [each.file.name for each in load_job(job).inputs]
    assert "no file is chosen" in do("add").text


def test_an_input_that_is_dropped_anew_is_replaced_and_not_added(page: TestClient, parts: Path) -> None:
    job = parts / "lost.job.toml"
    job.write_text('steadyrest_job = 1\nclearance = 40\n\n[[inputs]]\nfile = "lost.cl"\n')
    text = page.get("part?job=lost.job.toml").text
    assert "lost.cl cannot be read" in text
    sent = {"seen": value_of(text, "seen"), "clearance": "40", "do": "add"}
    assert 303 == page.post("part/order?job=lost.job.toml", data=sent, files={"dropped": ("lost.cl", SLOT.encode())}).status_code
    assert ["lost.cl"] == [each.file.name for each in load_job(job).inputs]
    assert "lost.cl cannot be read" not in page.get("part?job=lost.job.toml").text


def test_a_tool_that_an_input_describes_is_not_copied_into_the_job(page: TestClient, parts: Path) -> None:
    """Copied, it would override what CAM writes next."""
    (parts / "cl.cl").write_text(SLOT.replace("LOADTL/7", "LOADTL/7\nCUTTER/6"))
    page.post("new", data={"file": "cl.cl"})
    form = {"stock.shape": "round", "stock.diameter": "40", "stock.from": "-90", "stock.to": "0", "tool.7.shape": "flat"}
    form["seen"] = value_of(page.get("part?job=cl.job.toml").text, "seen")
    assert 303 == page.post("part?job=cl.job.toml", data={**form, "tool.7.diameter": "6"}).status_code
    assert () == load_job(parts / "cl.job.toml").tools
    form["seen"] = value_of(page.get("part?job=cl.job.toml").text, "seen")
    assert 303 == page.post("part?job=cl.job.toml", data={**form, "tool.7.diameter": "6", "tool.7.length": "40"}).status_code
    assert [40] == [tool.length for tool in load_job(parts / "cl.job.toml").tools]


def test_a_gauge_length_in_the_job_stays_and_no_shape_is_copied_beside_it(page: TestClient, parts: Path) -> None:
    (parts / "cl.cl").write_text(SLOT.replace("LOADTL/7", "LOADTL/7\nCUTTER/6"))
    page.post("new", data={"file": "cl.cl"})
    job = parts / "cl.job.toml"
    job.write_text(job.read_text() + "\n[[tools]]\nnumber = 7\ngauge_length = 128.35\n")
    form = {"stock.shape": "round", "stock.diameter": "40", "stock.from": "-90", "stock.to": "0", "tool.7.shape": "flat"}
    form["seen"] = value_of(page.get("part?job=cl.job.toml").text, "seen")
    assert 303 == page.post("part?job=cl.job.toml", data={**form, "tool.7.diameter": "6"}).status_code
    assert ({7: 128.35}, ()) == (load_job(job).gauge_lengths, load_job(job).part.tools)
    assert 1 == page.get("part?job=cl.job.toml").text.count('name="tool.7.diameter"')


def test_a_missing_tool_of_the_size_of_its_stand_in_is_kept(page: TestClient, parts: Path, slot: str) -> None:
    form = {"seen": value_of(page.get(slot).text, "seen"), "clearance": "40", "tool.7.shape": "flat", "tool.7.diameter": "1"}
    assert 303 == page.post(slot, data=form).status_code
    assert [1] == [tool.diameter for tool in load_job(parts / "slot.job.toml").tools]


@pytest.mark.parametrize(
    ("said", "words", "stays"),
    [
        ({"stock.shape": "round", "stock.diameter": "40", "stock.from": "0", "stock.to": "-90"}, "has to be less than", "-90"),
        ({"tool.7.shape": "bullnose", "tool.7.diameter": "6", "tool.7.corner_radius": "5"}, "corner_radius 5 does not fit", "5"),
        ({"tool.7.diameter": "6.25"}, "its shape is not chosen", "6.25"),
        ({"centre.0": "0", "centre.1": "o", "centre.2": "0"}, "found &#34;o&#34;; allowed is a number", "o"),
    ],
)
def test_what_is_wrong_of_several_sizes_together_is_said_and_nothing_typed_is_lost(
    page: TestClient, parts: Path, slot: str, said: dict[str, str], words: str, stays: str
) -> None:
    before = (parts / "slot.job.toml").read_text()
    answer = page.post(slot, data={"seen": value_of(page.get(slot).text, "seen"), **said})
    assert 422 == answer.status_code
    assert words in answer.text
    assert f'value="{stays}"' in answer.text
    assert before == (parts / "slot.job.toml").read_text()


def test_angles_are_said_as_in_a_job_file(page: TestClient, parts: Path) -> None:
    def angles(said: str) -> Response:
        seen = value_of(page.get(f"part?job={JOB}").text, "seen")
        form = {"seen": seen, "input.0.indexed": said, "stock.shape": "round", "stock.diameter": "40", "stock.from": "-90", "stock.to": "0"}
        return page.post(f"part?job={JOB}", data=form)

    assert 303 == angles("4 x 90").status_code
    assert (0, 90, 180, 270) == load_job(parts / JOB).inputs[0].indexed
    assert 303 == angles("0, 120").status_code
    assert (0, 120) == load_job(parts / JOB).inputs[0].indexed
    wrong = angles("0, 12o")
    assert 422 == wrong.status_code
    assert "allowed are angles" in wrong.text
    assert 'value="0, 12o"' in wrong.text


def test_a_box_that_is_unticked_is_unsaid(page: TestClient, parts: Path, slot: str) -> None:
    for ticked, cards in (({"input.0.cards": ["", "yes"]}, True), ({"input.0.cards": [""]}, False)):
        seen = value_of(page.get(slot).text, "seen")
        assert 303 == page.post(slot, data={"seen": seen, **ticked}).status_code
        assert cards is load_job(parts / "slot.job.toml").inputs[0].cards


def test_a_file_that_is_written_anew_is_noticed_and_the_difference_is_said(page: TestClient, parts: Path, slot: str) -> None:
    page.get(slot)
    key = page.get(slot.replace("part?", "part/state?")).json()["key"]
    (parts / "slot.cl").write_text(SLOT.replace("FEDRAT/200", "FEDRAT/350"))
    now = page.get(slot.replace("part?", "part/state?")).json()["key"]
    assert key != now
    assert f'data-read="{now}"' in page.get(slot).text
    text = page.get(f"{slot}&was={key}").text
    assert "written anew" in text
    assert "feed 350, was 200" in text


def test_a_job_file_that_no_command_can_read_is_shown_with_what_is_wrong(page: TestClient, parts: Path) -> None:
    (parts / "bad.job.toml").write_text("steadyrest_job = 1\nnmae = 2\n")
    text = page.get("part?job=bad.job.toml").text
    assert "nmae" in text
    assert "did you mean" in text or "name" in text


def test_a_job_outside_of_the_folder_is_not_opened(page: TestClient, parts: Path) -> None:
    (parts.parent / "out.job.toml").write_text("steadyrest_job = 1\n")
    for name in ("../out.job.toml", "/etc/passwd", "..%2fout.job.toml", "out.job.toml"):
        assert 422 == page.get(f"part?job={name}").status_code


def test_drawings_and_figures_follow_what_is_typed_and_nothing_is_kept(page: TestClient, parts: Path, slot: str) -> None:
    before = (parts / "slot.job.toml").read_text()
    form = {
        "seen": value_of(page.get(slot).text, "seen"),
        "do": "show",
        "tool.7.shape": "flat",
        "tool.7.diameter": "6",
        "tool.7.length": "x",
    }
    form |= {"stock.shape": "round", "stock.diameter": "40", "stock.from": "-90", "stock.to": "0", "stock.held.at": "from"}
    answer = page.post(slot, data=form)
    assert 200 == answer.status_code
    assert "Cuts from X -30 to -10, of the tip alone" in answer.text, "the tool is not whole yet, the stock is"
    answer = page.post(slot, data={**form, "tool.7.length": "30"})
    assert "Cuts from X -33 to -7, the width of the tool included" in answer.text
    assert "30 out of its holder" in answer.text
    assert "18 mm from the axis" in answer.text
    moved = page.post(slot, data={**form, "tool.7.length": "30", "centre.0": "0", "centre.1": "2", "centre.2": "0"}).text
    assert "20 mm from the axis" in moved, "the axis of rotation 2 to the right of the origin, away from the slot at Y -18"
    assert before == (parts / "slot.job.toml").read_text()


def test_a_stock_off_the_axis_of_rotation_is_kept_in_two_numbers_or_in_three_as_it_was_said(
    page: TestClient, parts: Path, slot: str
) -> None:
    form = {
        "stock.shape": "round",
        "stock.diameter": "40",
        "stock.from": "-90",
        "stock.to": "0",
        "tool.7.shape": "flat",
        "tool.7.diameter": "6",
    }
    two = {**form, "stock.offset.0": "0", "stock.offset.1": "2.5", "seen": value_of(page.get(slot).text, "seen")}
    assert 303 == page.post(slot, data=two).status_code
    assert "offset = [0, 2.5]" in (parts / "slot.job.toml").read_text()
    assert "the stock sweeps 22.5 mm" in page.get(slot).text
    job = parts / "slot.job.toml"
    job.write_text(job.read_text().replace("[0, 2.5]", "[1, 0, 2.5]"))
    text = page.get(slot).text
    assert re.search(r'name="stock.offset.2"[^>]*value="2.5"', text)
    half = {**form, "stock.offset.0": "0", "stock.offset.1": "", "seen": value_of(text, "seen")}
    assert "found &#34;&#34;" in page.post(slot, data=half).text


def test_a_flat_program_is_drawn_as_it_is_laid_on_the_part_while_that_is_typed(page: TestClient, parts: Path) -> None:
    (parts / "own.nc").write_bytes((parts / "face.nc").read_bytes())
    page.post("new", data={"file": "own.nc"})
    form = {"seen": value_of(page.get("part?job=own.job.toml").text, "seen"), "do": "show", "clearance": "40"}
    assert "Cut at 0, 90, 180, 270 degrees" in page.post("part?job=own.job.toml", data={**form, "input.0.indexed": "4 x 90"}).text
    wrapped = {**form, "input.0.wrap.diameter": "40", "input.0.wrap.start_angle": "30", "input.0.wrap.z_from": "surface"}
    text = page.post("part?job=own.job.toml", data=wrapped).text
    assert "Wrapped round a diameter of 40 mm" in text
    assert "wrapped on 40 mm" in text, "in the list of operations too"


def test_a_file_of_words_outside_of_the_folder_is_neither_kept_nor_read(page: TestClient, parts: Path, slot: str) -> None:
    (parts.parent / "words.toml").write_text("secret = 1\n")
    before = (parts / "slot.job.toml").read_text()
    form = {"seen": value_of(page.get(slot).text, "seen"), "clearance": "40", "input.0.words": "../words.toml"}
    for more, status in (({}, 422), ({"do": "show"}, 200)):
        answer = page.post(slot, data={**form, **more})
        assert (status, False) == (answer.status_code, "secret" in answer.text)
    assert "is not in the folder of this page: copy it there" in page.post(slot, data=form).text
    assert before == (parts / "slot.job.toml").read_text()


def test_a_tool_said_in_the_job_is_taken_away_with_what_was_typed_of_it(page: TestClient, parts: Path, slot: str) -> None:
    said = {"clearance": "40", "tool.7.shape": "flat", "tool.7.diameter": "6"}
    assert 303 == page.post(slot, data={**said, "seen": value_of(page.get(slot).text, "seen")}).status_code
    text = page.get(slot).text
    assert "Take T7 away" in text
    sent = {**said, "tool.7.diameter": "wrong", "seen": value_of(text, "seen"), "do": "forget 7"}
    order = slot.replace("part?", "part/order?")
    assert 303 == page.post(order, data=sent).status_code
    assert () == load_job(parts / "slot.job.toml").tools
    text = page.get(slot).text
    assert "the shape of tool 7" in text
    assert "Take T7 away" not in text
    assert "says nothing of tool 7" in page.post(order, data={**sent, "seen": value_of(text, "seen")}).text


def test_what_was_typed_stays_where_a_file_is_written_anew(page: TestClient, parts: Path, slot: str) -> None:
    text = page.get(slot).text
    was = re.search(r'data-read="([^"]+)"', text)
    assert was is not None
    (parts / "slot.cl").write_text(SLOT.replace("FEDRAT/200", "FEDRAT/350"))
    typed = {"seen": value_of(text, "seen"), "do": "show", "tool.7.shape": "flat", "tool.7.diameter": "6"}
    answer = page.post(f"{slot}&was={was[1]}", data=typed)
    assert "feed 350, was 200" in answer.text
    assert re.search(r'name="tool.7.diameter" value="6"', answer.text)
    (parts / "slot.cl").write_text(SLOT.replace("PARTNO", "$$ written again\nPARTNO"))
    assert "single points may have moved" in page.post(f"{slot}&was={was[1]}", data=typed).text
    assert "A file was written anew" not in page.post(f"{slot}&was=../{was[1]}", data=typed).text
    assert 303 == page.post(slot, data={**typed, "do": "", "seen": value_of(answer.text, "seen"), "clearance": "40"}).status_code


@pytest.mark.browser
@pytest.mark.long
def test_in_a_browser_a_dropped_file_becomes_a_whole_part(address: str, parts: Path) -> None:
    from browser_page import accessible, opened

    (parts.parent / "slot.cl").write_text(SLOT)
    with opened(1366, 768) as page:
        page.goto(address)
        assert [] == accessible(page)
        (parts.parent / "none.cl").write_text("")
        page.set_input_files("#dropped", [str(parts.parent / "none.cl")])
        page.get_by_role("button", name="Begin").click()
        page.get_by_text("none.cl: the file is empty").wait_for()
        page.set_input_files("#dropped", str(parts.parent / "slot.cl"))
        page.get_by_role("button", name="Begin").click()
        page.get_by_text("Still missing").wait_for()
        page.get_by_label("end mill, flat end").check()
        page.locator("[name='tool.7.diameter']:enabled").fill("6")
        page.locator("#stock-shape").select_option("round")
        for name, value in (("diameter", "40"), ("from", "-90"), ("to", "0")):
            page.locator(f"[name='stock.{name}']:enabled").fill(value)
        page.get_by_text("Cuts from X -33 to -7").wait_for()
        page.get_by_role("button", name="Keep").click()
        page.get_by_text("The part is whole").wait_for()
        page.emulate_media(color_scheme="dark")
        assert [] == accessible(page)
        page.get_by_text("Its shape and sizes").click()
        page.get_by_text("The part as a whole").click()
        page.locator("[name='stock.diameter']:enabled").fill("forty")
        page.locator("[name='clearance']").fill("55")
        page.keyboard.press("Enter")
        page.get_by_text('found "forty"; allowed is a number').wait_for()
        assert ["forty", "55"] == [page.locator(f"[name='{name}']:enabled").input_value() for name in ("stock.diameter", "clearance")]
        page.get_by_role("link", name="Part", exact=True).click()
        page.get_by_text("The part is whole").wait_for()
        page.get_by_text("The part as a whole").click()
        page.locator("[name='clearance']").fill("56")
        page.get_by_text("Not kept yet").wait_for()
        (parts / "slot.cl").write_text(SLOT.replace("FEDRAT/200", "FEDRAT/350"))
        page.get_by_role("link", name="See what changed").click()
        page.get_by_text("feed 350, was 200").wait_for()
        assert "56" == page.locator("[name='clearance']").input_value(), "what was typed stays"
        page.set_viewport_size({"width": 390, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
