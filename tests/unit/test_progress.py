"""How far long work is: no stage of any command goes back, has another name, or ends elsewhere than at its end."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from itertools import groupby, pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyrest
from steadyrest import STAGES, Cancelled, Input, PartOptions, Progress, Request
from steadyrest.delivery import deliver
from steadyrest.explaining import explain
from steadyrest.posting import post, post_to_memory, prove
from steadyrest.profile_tools import check, compare, create, side, tour
from steadyrest.progress import EVEN, PROVING, Work, left_text, seconds_left
from steadyrest.reporting import look_at, picture_of, report_page
from steadyrest.sheet import setup_sheet
from steadyrest.toolpath import load_toolpath, toolpath_text

ROOT = Path(__file__).parents[2]
PART = ROOT / "demo" / "distributor" / "distributor.toolpath.json"
JOB = ROOT / "demo" / "lantern_cap" / "lantern_cap.job.toml"
LIMITED = Request(PART, "limited-clamped")
READ = ("reading the toolpath", "checking the moves")
Told = list[tuple[str, int, int]]


def heard(told: Told) -> Progress:
    return lambda stage, done, total: told.append((stage, done, total))


def stages(told: Told) -> list[str]:
    """The stages in their order, each once."""
    return [stage for stage, _ in groupby(stage for stage, _, _ in told)]


def check_told(told: Told) -> None:
    names = stages(told)
    assert set(names) <= STAGES.keys()
    assert len(names) == len(set(names)), "a stage that was left does not come again"
    for stage, calls in groupby(told, lambda each: each[0]):
        counts = [(done, total) for _, done, total in calls]
        assert all(0 <= one[0] <= other[0] for one, other in pairwise(counts)), f"{stage} goes back"
        known = [total for _, total in counts if total]
        assert len({*known}) <= 1, f"how much there is of {stage} changes"
        assert [total for _, total in counts][len(counts) - len(known) :] == known, f"how much there is of {stage} is forgotten"
        done, total = counts[-1]
        assert done == total or not total, f"{stage} ends at {done} of {total}"


def posted_file(folder: Path, controller: str = "rs274ngc") -> Path:
    post(Request(PART, controller, folder / "part.nc"))
    return folder / "part.nc"


def _report(progress: Progress, folder: Path) -> None:
    report_page(look_at(Request(PART), cells=(60, 60), progress=progress), progress=progress)


def _picture(progress: Progress, folder: Path) -> None:
    pytest.importorskip("matplotlib")
    picture_of(look_at(Request(PART), cells=(60, 60), progress=progress), "part", folder / "part.svg", progress)


def _taken(progress: Progress, folder: Path) -> None:
    inputs = [
        Input(file=ROOT / "demo" / "lantern_cap" / name, indexed=angles) for name, angles in (("faces.cl", None), ("face.nc", (0, 120)))
    ]
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
    tools = [{"number": number, "shape": "flat", "diameter": 10} for number in (1, 2, 3)]
    taken = steadyrest.take(inputs, PartOptions.model_validate({"stock": stock, "tools": tools}), progress=progress)
    assert "".join(toolpath_text(taken, progress))


def _delivered(progress: Progress, folder: Path) -> None:
    (folder / "share").mkdir()
    (folder / "share" / "part.nc").write_bytes(b"the former one")
    where = {"folder": folder / "share", "log": folder / "deliveries.log"}
    deliver(posted_file(folder), Request(PART), datetime(2026, 11, 29, tzinfo=UTC), **where, progress=progress)  # type: ignore[arg-type]


def _compared(progress: Progress, folder: Path) -> None:
    with side("rs274ngc") as one, side("tip-feed") as other:
        compare(one, other, dict(list(tour().items())[:2]), progress=progress)


COMMANDS: dict[str, tuple[Callable[[Progress, Path], object], list[str]]] = {
    "post": (
        lambda progress, folder: post(Request(PART, output=folder / "part.nc"), progress),
        [*READ, "planning and writing", "proving"],
    ),
    "post, turns chosen": (
        lambda progress, folder: post_to_memory(LIMITED, progress=progress),
        [*READ, "choosing the rotary's turns", "planning and writing", "proving"],
    ),
    "post a job": (
        lambda progress, folder: post_to_memory(Request(JOB).with_job(), progress=progress),
        ["reading the inputs", "taking the toolpath's digest", "planning and writing", "proving"],
    ),
    "prove": (
        lambda progress, folder: prove(posted_file(folder), Request(PART), progress=progress),
        [*READ, "proving"],
    ),
    "report": (
        _report,
        [
            *READ,
            "planning and writing",
            "reading the program back",
            "proving",
            "cutting the stock",
            "finding where walls stand",
            "drawing",
            "packing the listing",
            "packing",
        ],
    ),
    "picture": (
        _picture,
        [*READ, "planning and writing", "reading the program back", "proving", "cutting the stock", "finding where walls stand", "drawing"],
    ),
    "setup-sheet": (
        lambda progress, folder: setup_sheet(Request(PART), progress=progress),
        [*READ, "planning and writing", "proving", "reading the program back"],
    ),
    "explain": (
        lambda progress, folder: explain(posted_file(folder), 20, 22, Request(PART), progress=progress),
        [*READ, "planning and writing", "comparing the lines"],
    ),
    "take": (_taken, ["reading the inputs", "writing the toolpath"]),
    "deliver": (_delivered, [*READ, "proving", "delivering"]),
    "controller check": (lambda progress, folder: check("tip-feed", progress=progress), ["trying the profile"]),
    "controller compare": (_compared, ["comparing the programs"]),
    "controller new": (
        lambda progress, folder: create("mine", "rs274ngc", folder, example=posted_file(folder, "counts-numbered"), progress=progress),
        ["trying what the example shows"],
    ),
}


@pytest.mark.parametrize("command", COMMANDS)
def test_each_stage_of_a_command_is_told_to_its_end(command: str, tmp_path: Path) -> None:
    told: Told = []
    run, expected = COMMANDS[command]
    run(heard(told), tmp_path)
    check_told(told)
    assert [stage for stage in stages(told) if stage not in ("looking for collisions", "confirming a collision")] == expected


def test_what_would_hit_something_is_looked_for_and_confirmed_in_stages_of_their_own() -> None:
    data = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0, "held": {"at": "from", "length": 20}},
        "tools": [{"number": 3, "shape": "flat", "diameter": 6}],
        "operations": [
            {
                "tool": 3,
                "spindle": {"rpm": 8000, "turns": "clockwise"},
                "rotary": {"intent": "still"},
                "moves": [{"rapid": [5, 0, 15]}, {"rapid": [-30, 0, 15]}, {"cut": [-40, 0, 15], "feed": 900}],
            }
        ],
    }
    told: Told = []
    posted, _ = post_to_memory(Request(json.dumps(data).encode()), progress=heard(told))
    assert "rapid" in [finding.name for finding in posted.outcome.findings]
    check_told(told)
    assert stages(told)[-2:] == ["looking for collisions", "confirming a collision"]


def test_moves_are_planned_one_after_the_other_each_angle_counted() -> None:
    told: Told = []
    post_to_memory(Request(PART), progress=heard(told))
    toolpath = load_toolpath(PART)
    counted = 0
    for operation in toolpath.operations:
        moves = sum(len(item) if hasattr(item, "__len__") else 1 for item in operation.stream())
        assert moves == operation.moves_there
        counted += moves * len(getattr(operation.rotary, "angles", (0,)))
    assert {counted} == {total for stage, _, total in told if stage == "planning and writing"} == {toolpath.moves_to_cut}


def test_the_moves_of_long_tables_are_counted_without_being_read(tmp_path: Path) -> None:
    data = json.loads((ROOT / "tests" / "golden" / "tour" / "wrapped.toolpath.json").read_text())
    block = {"x": [float(x) for x in range(300)], "motion": [0] + [1] * 299, "y": [0] * 300, "z": [1.5] * 300, "feed": [100] * 300}
    operation = {key: value for key, value in data["operations"][0].items() if key != "moves"}
    data["operations"] = [operation | {"table": [block, block, block]}]
    file = tmp_path / "long.toolpath.json"
    file.write_text(json.dumps(data))
    assert load_toolpath(file).moves_to_cut == 900
    long_moves = [{"rapid": [0, 0, 30]}, *({"cut": [float(x), 0, -1], "feed": 100} for x in range(40_000))]
    data["operations"] = [operation | {"moves": long_moves}]
    file.write_text(json.dumps(data))
    assert file.stat().st_size > 1 << 20
    assert load_toolpath(file).moves_to_cut == 40_001


def test_the_proof_of_a_program_that_differs_ends_where_it_differs(tmp_path: Path) -> None:
    program = posted_file(tmp_path)
    lines = program.read_text().splitlines(keepends=True)
    at = next(at for at in range(len(lines) // 2, len(lines)) if lines[at].startswith("G0 A"))
    program.write_text("".join([*lines[:at], "G0 A7\n", *lines[at + 1 :]]))
    told: Told = []
    assert prove(program, Request(PART), progress=heard(told)).outcome.word == "stop"
    done, total = next((done, total) for stage, done, total in reversed(told) if stage == PROVING)
    assert done <= at < total == len(lines)


def _ended_at(stage: str, error: type[BaseException]) -> Progress:
    def progress(now: str, done: int, total: int) -> None:
        if now == stage:
            raise error("enough")

    return progress


@pytest.mark.parametrize("error", [Cancelled, KeyboardInterrupt])
@pytest.mark.parametrize("stage", [*READ, "choosing the rotary's turns", "planning and writing", "proving"])
def test_a_post_that_is_ended_in_any_stage_leaves_the_old_file(stage: str, error: type[BaseException], tmp_path: Path) -> None:
    output = tmp_path / "part.nc"
    output.write_text("as it was")
    with pytest.raises(error):
        post(Request(PART, "limited-clamped", output), _ended_at(stage, error))
    assert {"part.nc": "as it was"} == {file.name: file.read_text() for file in tmp_path.iterdir()}


def test_a_delivery_that_is_ended_leaves_the_old_program_and_nothing_beside_it(tmp_path: Path) -> None:
    with pytest.raises(Cancelled):
        _delivered(_ended_at("delivering", Cancelled), tmp_path)
    assert {"part.nc": b"the former one"} == {file.name: file.read_bytes() for file in (tmp_path / "share").iterdir()}


@given(st.lists(st.integers(-5, 40)), st.integers(0, 30))
def test_what_is_done_never_goes_back_nor_beyond_what_there_is(steps: list[int], total: int) -> None:
    told: Told = []
    work = Work(heard(told), PROVING, total)
    for step in steps:
        work.to(step)
    assert [(stage, total) for stage, _, total in told] == [(PROVING, total)] * len(steps)
    assert all(one <= other for (_, one, _), (_, other, _) in pairwise(told))
    assert not total or all(0 <= done <= total for _, done, _ in told)


def test_items_are_told_once_they_are_done_with() -> None:
    told: Told = []

    def items() -> Iterator[int]:
        yield from (3, 5)

    seen = [(item, list(told)) for item in Work(heard(told), PROVING, 9).through(items(), lambda item: item)]
    assert seen == [(3, []), (5, [(PROVING, 3, 9)])]
    assert told[-1] == (PROVING, 9, 9)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.2, "1 s"),
        (7.3, "8 s"),
        (11, "12 s"),
        (38, "40 s"),
        (61, "70 s"),
        (91, "2 min"),
        (400, "7 min"),
        (3590, "1 h 0 min"),
        (3700, "1 h 10 min"),
        (7900, "2 h 20 min"),
    ],
)
def test_what_is_left_is_said_no_finer_than_it_is_known_and_never_too_short(seconds: float, text: str) -> None:
    assert left_text(seconds) == text


@given(st.floats(0.5, 3600.0), st.integers(10, 10**7), st.integers(2, 60))
def test_at_an_even_pace_the_time_left_is_right(whole: float, total: int, samples: int) -> None:
    known = [(whole * share / 100, total * share // 100) for share in range(samples)]
    left = seconds_left(known, total)
    now, done = known[-1]
    if left is not None:
        assert now >= 2.0
        assert left == pytest.approx(whole * (total - done) / total, rel=2 * EVEN, abs=2 * whole / total + 1e-6)
    elif now >= 2.0 and total >= 10_000 and samples > 10:
        raise AssertionError("an even pace says how long the rest takes")
