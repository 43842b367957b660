"""How it stands today: pictures, words, and what is posted agree; a direction that nobody knows is found by the turn check."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from page_client import JOB, value_of, whole
from starlette.testclient import TestClient

from steadyrest.posting import post_to_memory
from steadyrest.profile import resolve
from steadyrest.request import Request

TODAY = f"today?job={JOB}"


@pytest.fixture(autouse=True)
def own_configuration(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def keep(page: TestClient, address: str = TODAY, **said: str) -> int:
    """Say how the rotary stands; the status of the answer."""
    seen = value_of(page.get(address).text, "seen")
    return page.post(address, data={"seen": seen} | said).status_code


def take(page: TestClient, controller: str, address: str = TODAY) -> int:
    """Take another machine."""
    seen = value_of(page.get(address).text, "seen")
    return page.post(address.replace("today", "today/machine", 1), data={"seen": seen, "controller": controller}).status_code


def a_part(
    parts: Path, axis: str = "X", centre: tuple[float, ...] = (0, 0, 0), controller: str = "rs274ngc", held: str = "", units: str = "mm"
) -> str:
    """A job of its own beside the others, that says its stock itself; its address. A slot at 90 degrees from -10 to -30 along the axis."""
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
    here = {"X": lambda along, high: [along, 0, high], "Y": lambda along, high: [0, along, high]}[axis]
    moves = [{"rapid": here(-10, 60)}, {"rapid": here(-10, 25)}, {"cut": here(-10, 17), "feed": 300}, {"cut": here(-30, 17)}]
    cut = {"name": "f", "tool": 3, "spindle": {"rpm": 8000, "turns": "clockwise"}, "coolant": "off"}
    cut |= {"rotary": {"intent": "indexed", "angles": [90]}, "moves": moves}
    said = {"steadyrest_toolpath": 1, "name": "p", "units": units, "axis": axis, "centre": centre, "stock": stock}
    said |= {"tools": [{"number": 3, "shape": "flat", "diameter": 6}], "operations": [cut]}
    (parts / "p.toolpath.json").write_text(json.dumps(said))
    text = (
        'steadyrest_job = 1\nstock = {shape = "round", diameter = 40, from = -90, to = 0%s}\n[[inputs]]\nfile = "p.toolpath.json"\n[post]\n'
    )
    (parts / "p.job.toml").write_text(text % (f', held = {{at = "{held}"}}' if held else "") + f'controller = "{controller}"\n')
    return "today?job=p.job.toml"


def upright_b(parts: Path) -> str:
    """A machine with an upright spindle and a rotary B along Y."""
    (parts / "upright-b").mkdir()
    (parts / "upright-b" / "controller.toml").write_text(
        'extends = "rs274ngc-b"\nspeaks = "an upright spindle, B along Y"\n[spindle]\nstands = "upright"\n'
    )
    return "./upright-b"


# Worked by hand, for the tool at alpha = 90 and stock held where it begins (from) or ends (to).
#
# Right-hand rule of ISO 841 (from memory): thumb along + of the axis, the fingers curl the positive way. About X they take +Y to +Z and +Z
# to -Y; about Y they take +Z to +X and +X to -Z.
# Where the tool stands on the part: turned by +90 about X from +Z it is at -Y, the side towards the operator; about Y from +Z at +X, on
# the right. Where the held end and the chuck's direction contradict each other the part is turned by half a turn about Z: x and y change
# sign, so the tool is then at +Y, the far side, or at -X, on the left.
# That side has to come up, to +Z, under the spindle. Not turned: -Y to +Z, or +X to +Z, is against the fingers: left-hand by 90. Turned:
# +Y to +Z, or -X to +Z, is with them: right-hand by 90.
# The chuck, seen from in front of its face: where it faces +, that onlooker looks along -, and sees a right-hand turn about + go
# counterclockwise (X to the right and Y up, Z towards the eye, fingers from X to Y). Where it faces -, they see it go clockwise.
# So the word is +90 where + turns the way that is needed, else -90:
#                                   not turned (from & +, to & -): left-hand    turned (from & -, to & +): right-hand
#   faces +, clockwise: left-hand              +90                                   -90
#   faces +, counterclockwise: right-hand      -90                                   +90
#   faces -, clockwise: right-hand             -90                                   +90
#   faces -, counterclockwise: left-hand       +90                                   -90
# Along the axis the slot lies from -10 to -30, turned from 10 to 30.
WORKED = [
    ("from", "+", "clockwise", +90, {-10, -30}),
    ("from", "+", "counterclockwise", -90, {-10, -30}),
    ("from", "-", "clockwise", +90, {10, 30}),
    ("from", "-", "counterclockwise", -90, {10, 30}),
    ("to", "+", "clockwise", -90, {10, 30}),
    ("to", "+", "counterclockwise", +90, {10, 30}),
    ("to", "-", "clockwise", -90, {-10, -30}),
    ("to", "-", "counterclockwise", +90, {-10, -30}),
]
# What is seen of the top of the part at a positive command: with the fingers about X the top, +Z, goes to -Y, towards the operator; about Y
# to +X, to the right. By the table above that is right-hand: faces + counterclockwise, and faces - clockwise.
RIGHT_HAND = {("+", "counterclockwise"), ("-", "clockwise")}
MOVES = {"X": {True: "towards-me", False: "away-from-me"}, "Y": {True: "to-the-right", False: "to-the-left"}}


@pytest.mark.parametrize("how", ["chosen by picture", "seen in the turn check"])
@pytest.mark.parametrize("axis", ["X", "Y"])
@pytest.mark.parametrize(("held", "end", "turns", "word", "along"), WORKED)
def test_every_end_and_direction_is_posted_as_worked_by_hand(
    page: TestClient, parts: Path, held: str, end: str, turns: str, word: int, along: set[int], axis: str, how: str
) -> None:
    today = a_part(parts, axis, controller="rs274ngc" if axis == "X" else upright_b(parts), held=held)
    assert "Nobody has said yet how the rotary stands" in page.get(today).text
    if how == "chosen by picture":
        assert 303 == keep(page, today, chuck_faces=end + axis, turns=turns)
    else:
        seen = MOVES[axis][(end, turns) in RIGHT_HAND]
        said = {"digest": value_of(page.get(today).text, "digest"), "chuck_faces": end + axis, "seen": seen, "keep": "today"}
        assert 303 == page.post(today.replace("today", "today/seen", 1), data=said).status_code
    letter = {"X": "A", "Y": "B"}[axis]
    _, program = post_to_memory(Request(parts / "p.job.toml").with_job())
    assert {word % 360} == {float(each) % 360 for each in re.findall(rb"\b" + letter.encode() + rb"(-?[0-9.]+)", program)} - {0.0}
    assert along == {float(each) for each in re.findall(rb"\b" + axis.encode() + rb"(-?[0-9.]+)", program)}
    told = page.get(today).text
    assert f"{letter}+ turns the chuck {turns}, looking at its face; the chuck faces {end}{axis}" in told
    assert f"moves the top of the part {MOVES[axis][(end, turns) in RIGHT_HAND].replace('-me', ' you').replace('-', ' ')}" in told
    assert ("The job is turned end for end" in told) == (along == {10, 30})


def test_what_is_chosen_is_what_the_look_and_the_program_say(page: TestClient, parts: Path) -> None:
    assert 303 == keep(page, chuck_faces="+X", turns="counterclockwise")
    assert "A+ turns the chuck counterclockwise" in whole(page, f"look?job={JOB}")


def test_what_the_shop_s_own_profile_says_is_not_written_into_the_job(page: TestClient, parts: Path, tmp_path: Path) -> None:
    own = tmp_path / "config" / "steadyrest" / "controllers" / "own"
    own.mkdir(parents=True)
    (own / "controller.toml").write_text('extends = "rs274ngc"\n[rotary.A]\nchuck_faces = "+X"\npositive_turns_chuck = "clockwise"\n')
    job = parts / JOB
    job.write_text(re.sub(r'controller = "[^"]*"', 'controller = "own"', job.read_text()))
    assert "Assumed, not seen" not in page.get(TODAY).text
    assert "Said in your own profile" in page.get(TODAY).text
    before = job.read_text()
    assert 303 == keep(page, chuck_faces="+X", turns="clockwise")
    assert before == job.read_text()
    assert 422 == keep(page, chuck_faces="+Y", turns="clockwise")
    assert 422 == keep(page, chuck_faces="+X", turns="")
    assert before == job.read_text()


def test_a_mounting_that_nobody_has_seen_is_neither_shown_nor_chosen_already(page: TestClient) -> None:
    text = page.get(TODAY).text
    assert "Nobody has said yet how the rotary stands" in text
    assert "Assumed, not seen" in text
    state = text[text.index('id="stands-name"') : text.index('id="machine"')]
    assert "<svg" not in state
    chosen = re.findall(r'name="(chuck_faces|turns|seen)" value="([^"]+)" required checked', text)
    assert [("turns", "not-known")] == chosen


def test_where_it_stands_can_be_said_while_which_way_it_turns_is_not_known(page: TestClient, parts: Path) -> None:
    assert 303 == keep(page, chuck_faces="-X", turns="not-known")
    text = page.get(TODAY).text
    assert "The chuck faces -X; which way A+ turns it is not known yet" in text
    assert "Find out which way it turns" in text
    state = text[text.index('id="stands-name"') : text.index('id="machine"')]
    assert "<svg" in state
    assert "polyline" not in state, "no arrow where nobody knows"
    assert "positive_turns_chuck" not in (parts / JOB).read_text()
    keep(page, chuck_faces="-X", turns="clockwise")
    keep(page, chuck_faces="-X", turns="not-known")
    assert "not known yet" in page.get(TODAY).text
    assert "positive_turns_chuck" not in (parts / JOB).read_text()


def test_another_machine_takes_away_the_mounting_of_the_one_before_and_nothing_else(page: TestClient, parts: Path) -> None:
    keep(page, chuck_faces="-X", turns="clockwise")
    job = parts / JOB
    job.write_text(job.read_text() + '\n[post.set.program]\nextension = ".tap"\n')
    assert 303 == take(page, "tip-feed")
    request = Request(job).with_job()
    assert ("tip-feed", ['program.extension=".tap"']) == (request.named_controller, list(request.sets))


def test_only_a_machine_of_the_list_is_taken(page: TestClient, parts: Path) -> None:
    before = (parts / JOB).read_bytes()
    assert 422 == take(page, "../../elsewhere")
    assert 422 == take(page, "nobody-s-mill")
    assert before == (parts / JOB).read_bytes()


def test_a_machine_of_the_folder_is_taken_from_the_job_s_own_folder(page: TestClient, parts: Path) -> None:
    today = a_part(parts, "Y")
    assert "rs274ngc has no rotary along Y" in page.get(today).text
    assert 303 == take(page, upright_b(parts), today)
    assert 'controller = "./upright-b"' in (parts / "p.job.toml").read_text()
    assert "Nobody has said yet how the rotary stands" in page.get(today).text


def test_a_borrowed_drive_that_counts_against_the_degrees_is_shown_as_its_display_counts(page: TestClient, parts: Path) -> None:
    against = parts / "against"
    against.mkdir()
    (against / "controller.toml").write_text(
        'extends = "y-drives-rotary"\nspeaks = "a drive that counts against"\n[rotary.A]\nmm_per_degree = -0.1\n'
        'chuck_faces = "+X"\npositive_turns_chuck = "clockwise"\n'
    )
    text = page.get(a_part(parts, controller="./against")).text
    assert "Y+ turns the chuck counterclockwise, looking at its face" in text
    assert "Y+ moves the top of the part towards you" in text  # counterclockwise, facing +X: right-hand, the top goes to -Y
    assert re.search(r'value="clockwise" required checked> <b>counterclockwise</b>', text)


def test_a_change_made_meanwhile_elsewhere_is_told_and_not_overwritten(page: TestClient, parts: Path) -> None:
    seen = value_of(page.get(TODAY).text, "seen")
    keep(page, chuck_faces="-X", turns="clockwise")
    now = (parts / JOB).read_bytes()
    answer = page.post(TODAY, data={"seen": seen, "chuck_faces": "+X", "turns": "clockwise"})
    assert 422 == answer.status_code
    assert "changed meanwhile" in answer.text
    assert now == (parts / JOB).read_bytes()


def test_the_turn_check_is_written_and_what_was_seen_is_stored_under_a_name_of_the_shop(page: TestClient, parts: Path) -> None:
    text = page.get(TODAY).text
    assert "A goes to 0 at rapid, then by +15 degrees slowly, at feed" in text
    assert "is in the folder of your parts" not in text
    assert 303 == page.post(f"today/check?job={JOB}", data={}).status_code
    assert b"M30" in (parts / "turn-check-a.nc").read_bytes() or b"M2" in (parts / "turn-check-a.nc").read_bytes()
    assert "<b>turn-check-a.nc</b> is in the folder of your parts" in page.get(TODAY).text
    digest = value_of(page.get(TODAY).text, "digest")
    said = {"digest": digest, "chuck_faces": "+X", "seen": "towards-me", "child": "big-mill", "keep": ""}
    text = page.post(f"today/seen?job={JOB}", data=said).text
    assert "positive_turns_chuck: clockwise -&gt; counterclockwise" in text
    assert "Store it for this machine" in text
    assert 303 == page.post(f"today/seen?job={JOB}", data={**said, "keep": "machine"}).status_code
    rotary = resolve("big-mill", ()).profile.rotary["A"]
    assert ("+X", "counterclockwise") == (rotary.chuck_faces, rotary.positive_turns_chuck)
    assert 'controller = "big-mill"' in (parts / JOB).read_text()
    assert "Said in your own profile" in page.get(TODAY).text
    assert 422 == page.post(f"today/seen?job={JOB}", data={**said, "seen": "up"}).status_code
    assert 422 == page.post(f"today/seen?job={JOB}", data={**said, "chuck_faces": ""}).status_code


def test_a_machine_that_cannot_stop_gets_no_turn_check_and_is_told_why(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text() + '\n[post.set.stops]\nprogram = ""\n')
    assert "has no code for a program stop" in page.get(TODAY).text
    assert 422 == page.post(f"today/check?job={JOB}", data={}).status_code
    assert not (parts / "turn-check-a.nc").exists()


def test_the_stock_in_the_chuck_is_drawn_as_it_is_typed_and_kept_when_asked(page: TestClient, parts: Path) -> None:
    today = a_part(parts, held="from")
    before = (parts / "p.job.toml").read_bytes()
    told = page.get("today/drawn?job=p.job.toml&at=from&length=12,5").json()
    assert "in the jaws 12.5 mm" in told["svg"]
    assert "sticks out 77.5 mm" in told["svg"]
    assert "held at X -90 (left): 12.5 mm of it in the jaws" in told["lines"]
    assert before == (parts / "p.job.toml").read_bytes()
    for wrong, words in (("95", "95 of the stock are held, and it is 90 long"), ("-1", ""), ("all", "")):
        told = page.get(f"today/drawn?job=p.job.toml&at=from&length={wrong}").json()
        assert words in told["wrong"]
        assert told["wrong"]
        assert not told["svg"]
        said = {"seen": value_of(page.get(today).text, "seen"), "at": "from", "length": wrong}
        assert 422 == page.post("today/held?job=p.job.toml", data=said).status_code
    assert before == (parts / "p.job.toml").read_bytes()
    said = {"seen": value_of(page.get(today).text, "seen"), "at": "to", "length": "12,5"}
    assert 303 == page.post("today/held?job=p.job.toml", data=said).status_code
    stock = Request(parts / "p.job.toml").with_job()
    assert "held end" in str(post_to_memory(stock)[0].outcome) or 'at = "to"' in (parts / "p.job.toml").read_text()
    said = {"seen": value_of(page.get(today).text, "seen"), "at": "", "length": ""}
    assert 303 == page.post("today/held?job=p.job.toml", data=said).status_code
    assert "held" not in (parts / "p.job.toml").read_text()


def test_a_length_in_the_jaws_without_an_end_is_refused(page: TestClient, parts: Path) -> None:
    today = a_part(parts)
    said = {"seen": value_of(page.get(today).text, "seen"), "at": "", "length": "12"}
    assert 422 == page.post("today/held?job=p.job.toml", data=said).status_code


def test_a_stock_that_an_input_says_is_changed_there(page: TestClient, parts: Path) -> None:
    today = a_part(parts)
    job = parts / "p.job.toml"
    job.write_text("\n".join(line for line in job.read_text().splitlines() if not line.startswith("stock")) + "\n")
    text = page.get(today).text
    assert "The stock is said by an input, not by the job" in text
    assert 422 == page.post("today/held?job=p.job.toml", data={"seen": value_of(text, "seen"), "at": "to", "length": ""}).status_code


def test_how_far_the_stock_has_to_stick_out_is_told_once_its_program_was_made(page: TestClient, parts: Path) -> None:
    keep(page, chuck_faces="+X", turns="clockwise")
    assert "is told here once the program was made" in page.get(TODAY).text
    whole(page, f"look?job={JOB}")
    told = page.get(TODAY).text
    assert "is told here once the program was made" not in told
    assert "stick-out from the jaws: more than" in told
    keep(page, chuck_faces="-X", turns="clockwise")
    assert "is told here once the program was made" in page.get(TODAY).text, "that of another mounting is not shown"


def cradle(parts: Path, chain: str = "part C A bed spindle", **second: str) -> str:
    """A machine of the folder with two rotaries, a C and the A of its parent, and a part on it; the address."""
    (parts / "cradle").mkdir()
    facts = {"along": "Z", "seen_from": "+Z", "positive_turns": "clockwise", **second}
    said = ", ".join(f'{key} = "{value}"' for key, value in facts.items())
    letter = {"X": "A", "Y": "B", "Z": "C"}[facts["along"]]
    (parts / "cradle" / "controller.toml").write_text(
        f'extends = "rs274ngc"\nspeaks = "Two rotaries."\nchain = "{chain}"\nrotary.{letter} = {{{said}}}\n'
    )
    return a_part(parts, controller="./cradle")


def see(page: TestClient, address: str, **said: str) -> tuple[int, str]:
    """Say what was seen at a turn check; status and text of the answer."""
    digest = value_of(page.get(address).text, "digest")
    answer = page.post(address.replace("today", "today/seen", 1), data={"digest": digest, **said})
    return answer.status_code, answer.text


def test_a_machine_with_two_rotaries_has_a_turn_check_for_each(page: TestClient, parts: Path) -> None:
    address = cradle(parts)
    text = page.get(address).text
    assert "C, carried by A, turns the part about Z" in text
    assert "How the rotary stands" not in text
    assert "the edge of what A carries that is nearest to you, against the far one, moved" in text
    assert "Did the body of C go along when A turned?" in text
    assert "Did the body of A go along" not in text
    for letter in "AC":
        assert 303 == page.post(address.replace("today", "today/check"), data={"letter": letter}).status_code
        assert f"{letter}15" in (parts / f"turn-check-{letter.lower()}.nc").read_text()
        assert f"<b>turn-check-{letter.lower()}.nc</b> is in the folder of your parts" in page.get(address).text
    for letter in ("", "B"):
        assert 422 == page.post(address.replace("today", "today/check"), data={"letter": letter}).status_code
    assert 200 == page.get(address.replace("today", "part")).status_code


def test_what_was_seen_of_one_of_two_is_kept_for_the_job_or_stored_for_the_machine(page: TestClient, parts: Path) -> None:
    """By hand, as ISO 841 means it (from memory): the near edge of a table about X goes up; seen from +X that is clockwise."""
    address, job = cradle(parts), parts / "p.job.toml"
    assert "only ./cradle, which never saw this machine, says that A+" in " ".join(page.get(address).text.split())
    before = job.read_text()
    for wrong in ({"seen": "up"}, {"seen": "to-the-left", "went_along": "yes"}, {"seen": "up", "went_along": "perhaps"}):
        assert 422 == see(page, address, letter="A", keep="today", **wrong)[0]
    assert before == job.read_text()
    assert 303 == see(page, address, letter="A", seen="up", went_along="yes", keep="today")[0]
    assert {'rotary.A.chuck_faces="+X"', 'rotary.A.positive_turns_chuck="clockwise"'} == set(Request(job).with_job().sets)
    assert "A+ turns what it carries clockwise, seen from +X: said for this job." in page.get(address).text
    status, text = see(page, address, letter="A", seen="down", went_along="yes", child="", keep="")
    assert 200 == status
    assert "positive_turns_chuck: clockwise -&gt; counterclockwise" in text
    assert 303 == see(page, address, letter="A", seen="down", went_along="yes", child="", keep="machine")[0]
    assert () == tuple(Request(job).with_job().sets)
    assert "counterclockwise" == resolve(parts / "cradle").profile.rotary["A"].positive_turns_chuck
    assert "# turn check, " in (parts / "cradle" / "controller.toml").read_text()


def test_a_chain_is_drawn_once_somebody_has_seen_which_way_each_of_its_rotaries_turns(page: TestClient, parts: Path) -> None:
    address = a_part(parts, controller="two-in-table")
    assert "as you stand in front of the machine" not in page.get(address).text
    assert 303 == see(page, address, letter="A", seen="up", went_along="yes", keep="today")[0]
    assert "as you stand in front of the machine" not in page.get(address).text, "no arrow of C, which nobody has seen"
    assert 303 == see(page, address, letter="C", seen="to-the-right", keep="today")[0]
    text = page.get(address).text
    assert "as you stand in front of the machine" in text
    assert "Find where the axis of C is" in text


def test_where_the_other_one_did_not_go_along_the_chain_is_turned_round(page: TestClient, parts: Path) -> None:
    address = cradle(parts, "part B A bed spindle", along="Y", seen_from="+Y")
    assert 303 == see(page, address, letter="A", seen="up", went_along="no", keep="today")[0]
    assert "A, carried by B, turns the part about X" in page.get(address).text


def test_a_chain_that_cannot_be_is_not_kept(page: TestClient, parts: Path) -> None:
    address, before = cradle(parts), (parts / "cradle" / "controller.toml").read_bytes()
    for keep_it in ("today", "", "machine"):
        status, text = see(page, address, letter="A", seen="up", went_along="no", keep=keep_it)
        assert 422 == status
        assert "lies along it: it tilts nothing" in text
    assert before == (parts / "cradle" / "controller.toml").read_bytes()


def test_of_a_head_it_is_asked_which_way_the_nose_went(page: TestClient, parts: Path) -> None:
    """By hand, as ISO 841 means it (from memory): B turns the tool right-hand about +Y, so the nose, which hangs below, goes to the left.
    Seen from -Y, as the profile says it, that is clockwise; to the right is counterclockwise.
    """
    address = a_part(parts, controller="head-and-table")
    assert "At the small positive turn the nose of the spindle moved" in page.get(address).text
    assert "The spindle has to move, and the part to stay" in page.get(address).text
    assert 303 == see(page, address, letter="B", seen="to-the-right", keep="machine", child="our-head")[0]
    facts = resolve("our-head").profile.rotary["B"]
    assert ("-Y", "counterclockwise") == (facts.chuck_faces, facts.positive_turns_chuck)
    assert 'controller = "our-head"' in (parts / "p.job.toml").read_text()
    assert "B+ turns what it carries counterclockwise, seen from -Y: said in your own profile." in page.get(address).text


def test_in_inches_the_jaws_are_said_in_inches(page: TestClient, parts: Path) -> None:
    a_part(parts, held="from", units="inch")
    assert "in the jaws 0.75 inch" in page.get("today/drawn?job=p.job.toml&at=from&length=0.75").json()["svg"]


@pytest.mark.browser
@pytest.mark.long
def test_in_a_browser_the_whole_step_is_done_by_keyboard(address: str, parts: Path) -> None:
    """Nothing known; then the chuck at the right end, the turn check, what was seen, jaws, touches; and all of it there after a reload."""
    from browser_page import accessible, opened

    def to(page: object, selector: str) -> None:
        """Go on with the Tab key until that is focused."""
        for _ in range(120):
            page.keyboard.press("Tab")  # type: ignore[attr-defined]
            if page.evaluate("(s) => document.activeElement.matches(s)", selector):  # type: ignore[attr-defined]
                return
        raise AssertionError(f"the Tab key does not reach {selector}")

    with opened(1366, 768) as page:
        page.goto(f"{address}{TODAY}")
        assert [] == accessible(page)
        to(page, "a.next")
        page.keyboard.press("Enter")
        to(page, "#mounting [name=chuck_faces]")
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Tab")
        to(page, "#mounting button")
        page.keyboard.press("Enter")
        page.get_by_text("The chuck faces -X; which way A+ turns it is not known yet").wait_for()
        to(page, "#check-A form button")
        page.keyboard.press("Enter")
        page.get_by_text("is in the folder of your parts").wait_for()
        to(page, "#check-A [name=seen][type=radio]")
        page.keyboard.press("Space")
        assert page.locator("#check-A [name=seen]:checked ~ *, #check-A label:has(:checked) .facing.minus").first.is_visible()
        assert not page.locator("#check-A .facing.plus").first.is_visible()
        to(page, "#check-A button[value=today]")
        page.keyboard.press("Enter")
        page.get_by_text("A+ turns the chuck clockwise, looking at its face; the chuck faces -X").wait_for()
        to(page, "#held-length")
        page.keyboard.press("ControlOrMeta+a")
        page.keyboard.type("30")
        page.locator("#held-drawn").get_by_text("sticks out 60 mm").wait_for()
        to(page, "#held button")
        page.keyboard.press("Enter")
        page.wait_for_url("**#held")
        for selector, typed in (("#t-diameter", "40.018"), ("#t-top_1", "8.25"), ("#t-side_Y_1", "-37.482"), ("#t-side_Y_2", "12.536")):
            to(page, selector)
            page.keyboard.type(typed)
        page.keyboard.press("Tab")
        page.locator("#axis .result table").get_by_text("-12.4730 mm").wait_for()
        page.locator("#axis .result table").get_by_text("-11.7590 mm").wait_for()
        page.reload()
        assert "40.018" == page.locator("#t-diameter").input_value()
        assert page.locator("#axis .result table").get_by_text("-12.4730 mm").is_visible()
        for width, height, scheme in ((390, 844, "dark"), (1920, 1080, "light"), (1366, 768, "dark")):
            page.set_viewport_size({"width": width, "height": height})
            page.emulate_media(color_scheme=scheme)
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert [] == accessible(page)
    text = (parts / JOB).read_text()
    assert 'chuck_faces = "-X"' in text
    assert 'positive_turns_chuck = "clockwise"' in text
    assert "length = 30" in text


@pytest.mark.browser
@pytest.mark.long
def test_in_a_browser_each_rotary_of_a_head_and_a_table_is_asked_about(address: str, parts: Path) -> None:
    """Gauge length, turn check and ball of two rotaries; a choice that was made stays while a ball is kept."""
    from browser_page import accessible, opened

    a_part(parts, controller="head-and-table")
    with opened(1366, 768) as page:
        page.goto(f"{address}today?job=p.job.toml")
        page.get_by_role("link", name="Say how long T3 is").click()
        page.get_by_label("T3, mm").fill("128,35")
        page.get_by_role("button", name="Keep the lengths").click()
        page.get_by_role("link", name="Find out which way C turns").wait_for()
        assert "128.35" == page.get_by_label("T3, mm").input_value()
        page.locator("#check-C").get_by_label("to the left").check()
        page.locator("#line-C summary").first.click()
        for n, place in enumerate(((0, 40, 7), (90, 10, -23), (180, -20, 7)), 1):
            for name, each in zip(("at", "X", "Y"), place, strict=True):
                page.locator(f"#tC-ball_{n}_{name}").fill(str(each))
        page.keyboard.press("Tab")
        page.locator("#line-C .result table").get_by_text("10.0000 mm").wait_for()
        assert page.locator("#check-C").get_by_label("to the left").is_checked()
        page.locator("#check-C").get_by_role("button", name="Keep it for this job only").click()
        page.get_by_text("C+ turns what it carries clockwise, seen from +Z: said for this job.").wait_for()
        page.locator("#line-C").get_by_role("button", name="Keep it for this job only").click()
        page.get_by_text("X 10 Y 7 Z 0 mm from the reference point").wait_for()
        for width, height, scheme in ((390, 844, "dark"), (1366, 768, "light")):
            page.set_viewport_size({"width": width, "height": height})
            page.emulate_media(color_scheme=scheme)
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert [] == accessible(page)
    text = (parts / "p.job.toml").read_text()
    assert "gauge_length = 128.35" in text
    assert "point = [10.0, 7.0, 0.0]" in text
