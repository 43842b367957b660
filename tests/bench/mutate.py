"""Do the tests notice a small mistake? One is made at a time in reading, proof, motion or writing, and the nearest tests are run.

Run: mutate.py [--count 100] [--minutes 60] [--seed 1] [--room proof] [--only TEXT]. A mistake is a sign, a limit, an operator, a
condition that is dropped, and for or, a constant, or two arguments swapped. It is made in a copy in a temporary folder; the checkout
stays as it is. Prints each mistake, killed or survived; exits with 1 where one survived that `equivalent_mutants.txt` does not explain.
"""

from __future__ import annotations

import argparse
import ast
import multiprocessing
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import hypothesis  # noqa: F401  loaded here once, so that no child has to
import jinja2  # noqa: F401
import lark  # noqa: F401
import numpy  # noqa: F401
import pydantic  # noqa: F401
import pytest

ROOT = Path(__file__).parents[2]
EXPLAINED = Path(__file__).with_name("equivalent_mutants.txt")
COPIED = ("src", "controllers", "templates", "tests", "pyproject.toml")
LONGEST_S = 120
"""No test takes so long: a mistake that makes one go on for ever is noticed as well."""

NEAREST = {
    "reading": (
        "tests/unit/reading",
        "tests/outside/test_nistir_reading.py",
        "tests/golden",
        "tests/property/test_reading_fast_and_slow.py",
        "tests/property/test_reading_any_text.py",
        "tests/property/test_reading_of_programs_from_elsewhere.py",
        "tests/property/test_post_and_prove.py",
        "tests/unit/test_what_a_statement_may_become.py",
    ),
    "proof": (
        "tests/unit/proof",
        "tests/outside/test_proof_distances.py",
        "tests/outside/test_proof_signs.py",
        "tests/golden",
        "tests/faults/test_faults.py::test_every_fault_planted_in_a_dialect_is_caught_or_listed[rs274ngc]",
        "tests/faults/test_faults.py::test_every_fault_planted_in_a_dialect_is_caught_or_listed[limited-clamped]",
        "tests/faults/test_faults.py::test_every_fault_planted_in_a_dialect_is_caught_or_listed[incremental]",
        "tests/faults/test_edited_words.py",
        "tests/faults/test_faults_on_chains.py",
        "tests/outside/test_wrapped_on_two_rotaries.py",
        "tests/property/test_proof_of_like_holes.py::test_most_like_holes_are_judged_at_once[rs274ngc]",
        "tests/property/test_proof_of_short_passes.py::test_most_short_passes_are_judged_at_once[rs274ngc]",
        "tests/property/test_proof_of_short_passes.py::test_one_word_changed_among_many_passes_is_told_as_in_a_pass_by_itself",
        "tests/property/test_proof_of_broken_programs.py",
        "tests/property/test_post_and_prove.py",
    ),
    "motion": (
        "tests/unit/motion",
        "tests/golden",
        "tests/outside/test_chain_courses.py",
        "tests/outside/test_chain_kinematics.py",
        "tests/outside/test_feeds.py",
        "tests/outside/test_frames.py",
        "tests/outside/test_planes_on_heads.py",
        "tests/outside/test_planes_on_two_rotaries.py",
        "tests/outside/test_subdivision.py",
        "tests/outside/test_winding.py",
        "tests/outside/test_wrapped_on_two_rotaries.py",
        "tests/outside/test_wrapping.py",
        "tests/property/test_motion_arcs_and_feeds.py",
        "tests/property/test_motion_turning.py",
        "tests/property/test_motion_whole_turns.py",
        "tests/property/test_motion_least_turning.py",
        "tests/property/test_post_and_prove.py",
    ),
    "writing": (
        "tests/unit/writing",
        "tests/golden",
        "tests/property/test_writing_batches.py",
        "tests/property/test_writing_comments.py",
        "tests/property/test_writing_motion.py",
        "tests/property/test_writing_spelling.py",
        "tests/property/test_post_and_prove.py",
        "tests/unit/explaining",
    ),
}
"""Room of `src/steadyrest` to the tests that are nearest, the quickest first; a plan and a program are right if the proof says so."""

_OTHER: dict[type[ast.AST], str] = {
    ast.Lt: ">=", ast.LtE: ">", ast.Gt: "<=", ast.GtE: "<", ast.Eq: "!=", ast.NotEq: "==", ast.Is: "is not", ast.IsNot: "is",
    ast.In: "not in", ast.NotIn: "in", ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.Mod: "*", ast.FloorDiv: "*",
    ast.And: "or", ast.Or: "and", ast.BitAnd: "|", ast.BitOr: "&",
}  # fmt: skip
_NAMES = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "fmin": "fmax", "fmax": "fmin", "any": "all", "all": "any",
    "sin": "cos", "cos": "sin", "floor": "ceil", "ceil": "floor", "argmin": "argmax", "argmax": "argmin",
}  # fmt: skip


@dataclass(frozen=True, order=True)
class Mistake:
    """One piece of a file, bytes `first` to `stop`, as it is and as it becomes."""

    path: str
    line: int
    first: int
    stop: int
    old: str
    new: str
    around: str

    @property
    def key(self) -> str:
        """By which `equivalent_mutants.txt` knows it: file, the line's text, the change. A line may move."""
        return f"{self.path} | {self.around} | {self.old} -> {self.new}"


def mistakes(path: Path, root: Path = ROOT) -> Iterator[Mistake]:
    """Every mistake that can be made in a file of the checkout at `root`."""
    source = path.read_bytes()
    lines = source.splitlines(keepends=True)
    begins = [0]
    for line in lines:
        begins.append(begins[-1] + len(line))
    name = path.relative_to(root).as_posix()

    def at(row: int, column: int) -> int:
        return begins[row - 1] + column

    def whole(node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return at(node.lineno, node.col_offset), at(node.end_lineno, node.end_col_offset)

    def mistake(first: int, stop: int, new: str) -> Mistake:
        row = source.count(b"\n", 0, first) + 1
        old = " ".join(source[first:stop].decode().split())
        return Mistake(name, row, first, stop, old, new, lines[row - 1].decode().strip())

    def between(left: ast.expr, right: ast.expr, new: str) -> Mistake | None:
        """The operator between two operands, brackets and line ends left as they are."""
        first, stop = whole(left)[1], whole(right)[0]
        gap = source[first:stop].decode()
        spelled = gap.strip(" \n()")
        begin = gap.find(spelled)
        return mistake(first + begin, first + begin + len(spelled), new) if spelled and "#" not in gap else None

    tree = ast.parse(source)
    messages = {id(inner) for node in ast.walk(tree) for said in _said(node) for inner in ast.walk(said)}
    # Of a class's decorator only slots and frozen are set: they guard the writer of code and decide nothing.
    messages |= {
        id(inner) for node in ast.walk(tree) if isinstance(node, ast.ClassDef) for one in node.decorator_list for inner in ast.walk(one)
    }
    for node in ast.walk(tree):
        if id(node) in messages:
            continue
        if isinstance(node, ast.Compare):
            operands = [node.left, *node.comparators]
            for left, operator, right in zip(operands, node.ops, operands[1:], strict=False):
                if type(operator) in _OTHER and (made := between(left, right, _OTHER[type(operator)])):
                    yield made
        elif isinstance(node, ast.BinOp) and type(node.op) in _OTHER and (made := between(node.left, node.right, _OTHER[type(node.op)])):
            yield made
        elif isinstance(node, ast.BoolOp):
            for left, right in zip(node.values, node.values[1:], strict=False):
                if made := between(left, right, _OTHER[type(node.op)]):
                    yield made
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not, ast.Invert)):
            first, stop = whole(node)
            yield (
                mistake(first, whole(node.operand)[0], "")
                if isinstance(node.op, ast.USub)
                else mistake(first, stop, _taken(node, source, whole))
            )
        elif isinstance(node, (ast.If, ast.IfExp, ast.While)):
            yield mistake(*whole(node.test), "False")
        elif isinstance(node, ast.Constant) and isinstance(node.value, (int, float)) and node.col_offset > 0:
            yield mistake(*whole(node), _other_constant(node.value))
        elif isinstance(node, ast.Call):
            function = node.func
            called = function.id if isinstance(function, ast.Name) else function.attr if isinstance(function, ast.Attribute) else ""
            if called in _NAMES:
                stop = whole(function)[1]
                yield mistake(stop - len(called), stop, _NAMES[called])
            if len(node.args) >= 2 and not any(isinstance(arg, ast.Starred) for arg in node.args[:2]) and called not in _NAMES:
                (first, middle), (after, stop) = whole(node.args[0]), whole(node.args[1])
                swapped = source[after:stop] + source[middle:after] + source[first:middle]
                if swapped != source[first:stop]:
                    yield mistake(first, stop, " ".join(swapped.decode().split()))


def _other_constant(value: float) -> str:
    """A constant as a mistake would have it. A hair, such as a tolerance of 1e-12, becomes 1,000 times as wide: twice is no mistake."""
    if isinstance(value, bool):
        return str(not value)
    if value in (0, 1):
        return repr(value + 1)
    return repr(value * (1000 if abs(value) < 1e-6 else 2))


def _taken(node: ast.UnaryOp, source: bytes, whole: object) -> str:
    """What stands after `not`, with brackets round it."""
    segment = ast.get_source_segment(source.decode(), node.operand)
    assert segment is not None
    return f"({' '.join(segment.split())})"


def _said(node: ast.AST) -> list[ast.AST]:
    """What of a node only makes a sentence or a type."""
    if isinstance(node, (ast.Raise, ast.JoinedStr)):
        return [node]
    types = [getattr(node, "annotation", None), getattr(node, "returns", None)]
    return [one for one in types if isinstance(one, ast.AST)]


def nearest_tests(copy: Path, path: str) -> list[str]:
    """The tests that are nearest to a file, the most telling first: of its room's unit tests those that name it."""
    room, stem = path.split("/")[2], Path(path).stem

    def telling(test: Path) -> tuple[bool, int]:
        return stem not in test.stem, -test.read_text(encoding="utf-8").count(stem)

    unit, *more = NEAREST[room]
    return [*(test.relative_to(copy).as_posix() for test in sorted(sorted((copy / unit).glob("test_*.py")), key=telling)), *more]


class _Alarm:
    """Ends the child, without a word, in a test that goes on for ever."""

    @staticmethod
    def pytest_runtest_setup() -> None:
        signal.alarm(LONGEST_S)


def _tests(copy: Path, nearest: list[str], log: Path) -> None:
    """In a child: run the tests on the copy; the exit code is pytest's."""
    with log.open("w") as out:
        os.dup2(out.fileno(), 1)
        os.dup2(out.fileno(), 2)
    os.environ["STEADYREST_HYPOTHESIS"] = "few"
    os.environ["PYTHONPATH"] = str(copy / "src")
    sys.path.insert(0, str(copy / "src"))
    os.chdir(copy)
    os._exit(
        pytest.main(
            ["-x", "-q", "-p", "no:cacheprovider", "--no-header", "--tb=line", "-W", "ignore::pytest.PytestAssertRewriteWarning", *nearest],
            plugins=[_Alarm()],
        )
    )


def noticed(copy: Path, nearest: list[str], log: Path) -> bool:
    """Whether the tests fail, or do not come to an end."""
    child = multiprocessing.get_context("fork").Process(target=_tests, args=(copy, nearest, log))
    child.start()
    child.join()
    return child.exitcode != 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--minutes", type=float, default=0, help="make no more after so long; 0: as many as are asked for")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", choices=sorted(NEAREST), action="append", help="repeatable; all four unless given")
    parser.add_argument("--only", default="", help="mistakes whose file or line holds this text")
    asked = parser.parse_args()
    rooms = asked.room or list(NEAREST)
    explained = dict(_explanations())
    survived, known, begun = [], 0, time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        copy, log = Path(folder) / "steadyrest", Path(folder) / "log"
        copy.mkdir()
        for name in COPIED:
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__", "*.nbc", "*.nbi"))
            else:
                shutil.copy(source, copy / name)
        found = sorted(
            {
                one
                for room in rooms
                for path in sorted((copy / "src/steadyrest" / room).glob("*.py"))
                for one in mistakes(path, copy)
                if asked.only in one.key
            }
        )
        chosen = random.Random(asked.seed).sample(found, min(asked.count, len(found)))
        for room in sorted({one.path.split("/")[2] for one in chosen}):
            if noticed(copy, list(NEAREST[room]), log):
                print(log.read_text()[-2000:], file=sys.stderr)
                print(f"the tests of {room} fail as it is: nothing can be told", file=sys.stderr)
                return 2
        print(f"{len(chosen)} of {len(found)} mistakes, seed {asked.seed}", flush=True)
        made = 0
        for number, one in enumerate(chosen, start=1):
            if asked.minutes and time.monotonic() - begun > asked.minutes * 60:
                break
            target = copy / one.path
            source_bytes = target.read_bytes()
            changed = source_bytes[: one.first] + one.new.encode() + source_bytes[one.stop :]
            try:
                compile(changed, one.path, "exec")
            except SyntaxError:
                print(f"{number:>4}  no program   {one.path}:{one.line}  {one.old} -> {one.new}", flush=True)
                continue
            target.write_bytes(changed)
            made += 1
            killed = noticed(copy, nearest_tests(copy, one.path), log)
            target.write_bytes(source_bytes)
            reason = explained.get(one.key)
            known += not killed and reason is not None
            if not killed and reason is None:
                survived.append(one)
            says = "killed" if killed else "explained" if reason else "SURVIVED"
            print(f"{number:>4}  {says:<11}  {one.path.removeprefix('src/steadyrest/')}:{one.line}  {one.old} -> {one.new}", flush=True)
    killed_all, took = made - len(survived) - known, time.monotonic() - begun
    print(f"\n{killed_all} of {made} killed, {known} explained, {len(survived)} survived; {took:.0f} s")
    for one in survived:
        print(f"  {one.key}")
    return 1 if survived else 0


def _explanations() -> Iterator[tuple[str, str]]:
    """Key and reason of the mistakes that change nothing that could be told; a reason stands indented under its key."""
    key = ""
    for line in EXPLAINED.read_text(encoding="utf-8").splitlines():
        if line.startswith("    ") and key:
            yield key, line.strip()
        elif line and not line.startswith("#"):
            key = line.strip()


if __name__ == "__main__":
    raise SystemExit(main())
