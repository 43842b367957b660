"""How much code is there, room by room, and how dense is it? Lines, statements and the mean length of a line of code.

Run: measure_code.py [--base REV]. With a revision its figures stand beside today's: fewer lines have to come with fewer statements, and
the mean line may not be longer, or the code was packed and not made less.
"""

from __future__ import annotations

import argparse
import ast
import io
import subprocess
import tarfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]


def figures(texts: Iterator[tuple[str, str]]) -> dict[str, list[int]]:
    """Per room: modules, lines, lines of code (neither blank nor comment nor docstring), their characters, statements."""
    rooms: dict[str, list[int]] = {}
    for path, text in texts:
        tree = ast.parse(text)
        nodes = list(ast.walk(tree))
        quoted = {
            line
            for node in nodes
            if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
            for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)
        }
        lines = text.splitlines()
        code = [line for at, line in enumerate(lines, 1) if line.strip() and not line.strip().startswith("#") and at not in quoted]
        parts = Path(path).parts
        room = rooms.setdefault(parts[2] if len(parts) > 3 else "(top)", [0] * 5)
        found = (1, len(lines), len(code), sum(map(len, code)), sum(isinstance(node, ast.stmt) for node in nodes))
        for at, count in enumerate(found):
            room[at] += count
    return rooms


def of_today() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "src").rglob("*.py")):
        yield str(path.relative_to(ROOT)), path.read_text(encoding="utf-8")


def of_revision(revision: str) -> Iterator[tuple[str, str]]:
    archive = subprocess.run(["git", "archive", revision, "src"], cwd=ROOT, check=True, capture_output=True).stdout
    with tarfile.open(fileobj=io.BytesIO(archive)) as files:
        for member in files:
            opened = files.extractfile(member) if member.name.endswith(".py") else None
            if opened is not None:
                yield member.name, opened.read().decode("utf-8")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--base", metavar="REV", help="a revision to stand beside")
    base = arguments.parse_args().base
    now = figures(of_today())
    before = figures(of_revision(base)) if base else {}
    rows = [(room, now.get(room, [0] * 5), before.get(room, [0] * 5)) for room in sorted({*now, *before})]
    rows.append(
        ("all", [sum(each) for each in zip(*now.values(), strict=True)], [sum(each) for each in zip(*before.values(), strict=True)])
    )
    print(
        f"{'room':12} {'modules':>8} {'lines':>8} {'code':>8} {'statements':>11} {'characters a line':>18}" + ("   before" if base else "")
    )
    for room, (modules, lines, code, characters, statements), old in rows:
        line = f"{room:12} {modules:8} {lines:8} {code:8} {statements:11} {characters / max(code, 1):18.1f}"
        if old and base:
            line += (
                f"   {old[0]} modules, {old[1]} lines, {old[4]} statements, {old[3] / max(old[2], 1):.1f}; now {lines / max(old[1], 1):.2f}"
            )
        print(line)


if __name__ == "__main__":
    main()
