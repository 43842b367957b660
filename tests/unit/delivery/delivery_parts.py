"""A program, its toolpath, an order to put it somewhere, and the command that delivers it."""

from __future__ import annotations

import hashlib
from pathlib import Path

from click.testing import CliRunner, Result

from steadyrest.cli import main
from steadyrest.delivery.share import Order

TOOLPATH = """{
  "steadyrest_toolpath": 1, "name": "one flat", "units": "mm", "axis": "X",
  "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
  "tools": [{"number": 3, "name": "6 mm end mill", "shape": "flat", "diameter": 6}],
  "operations": [{
    "name": "flat", "tool": 3, "spindle": {"rpm": 8000, "turns": "clockwise"}, "coolant": "flood",
    "rotary": {"intent": "indexed", "angles": [0, 180]},
    "moves": [{"rapid": [5, -15, 30]}, {"rapid": [5, -15, 17.5]}, {"cut": [-30, -15, 17.5], "feed": 900}]
  }]
}
"""
NEW = b"NEW PROGRAM\n" * 1000
OLD = b"OLD PROGRAM\n"


def order_of(source: Path, share: Path, digest: str = "", former: Path | None = None) -> Order:
    return Order(
        source=source,
        digest=digest or hashlib.sha256(source.read_bytes()).hexdigest(),
        folder=share,
        name="part.nc",
        former=former if former is not None else share / "part-20261124-120000.old",
        waiting="11111111.tmp",
        aside="22222222.tmp",
        keeping="33333333.tmp",
    )


def inside(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def deliver(shop: Path, *more: str, program: str = "flat.nc") -> Result:
    arguments = ["deliver", str(shop / program), "-t", str(shop / "flat.toolpath.json"), *more]
    result = CliRunner().invoke(main, arguments)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result
