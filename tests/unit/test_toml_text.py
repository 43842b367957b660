"""On which line of a TOML text a key stands."""

from __future__ import annotations

import pytest

from steadyrest.toml_text import line_of

TEXT = """name = "vane"
[words]
order = [
  "X", "Y",
]
"spaces" = true     # [no.heading]
[[inputs]]
file = "a.nc"
[inputs.wrap]
diameter = 40
[[inputs]]
wrap = { diameter = 40 }
[rotary.A]
travel.kind = "limited"
"""


@pytest.mark.parametrize(
    ("keys", "line"),
    [
        (("name",), 1),
        (("words", "order", 1), 3),
        (("words", "spaces"), 6),
        (("words", "space"), 2),
        (("inputs",), 7),
        (("inputs", 0, "file"), 8),
        (("inputs", 0, "wrap", "diameter"), 10),
        (("inputs", 1, "file"), 11),
        (("inputs", 1, "wrap", "diameter"), 12),
        (("rotary", "A", "travel", "kind"), 14),
        (("no",), None),
    ],
)
def test_a_key_or_the_nearest_that_holds_it_has_its_line(keys: tuple[int | str, ...], line: int | None) -> None:
    assert line == line_of(TEXT, keys)
