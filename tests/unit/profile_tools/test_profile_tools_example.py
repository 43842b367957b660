"""An example is read as a person typed it; what cannot be read is said and not used."""

from __future__ import annotations

from pathlib import Path

import pytest
from profile_tools_parts import PARENT, claimed, shown

from steadyrest.errors import ProgramError
from steadyrest.profile_tools import create
from steadyrest.profile_tools.proposal import proposal


def test_lines_that_cannot_be_read_are_said_and_not_used() -> None:
    found = shown("G21 G90", "#100 = 5.1234", "G0 X[#100]", "M2")
    assert "what line 2 does, which could not be read: #100 = 5.1234" in found.unknown
    assert "numbers.length.point" not in claimed(found)


def test_a_program_typed_by_a_person_is_read_like_a_written_one() -> None:
    found = shown(
        "%",
        "O0042 (HINGE, SECOND SIDE)",
        "N1 G90 G21 G17 G40 G49 G80",
        "N2 M6 T1",
        "N3 M3 S5000",
        "N4 G54 G0 X-10. Y5.5",
        "N5 G43 H1 Z25.",
        "N6 M8",
        "N7 Z2.",
        "N8 G1 Z-1.5 F200.",
        "N9 X50.123 F800.",
        "N10 G3 X60.123 Y15.5 R10.",
        "N11 G0 Z25.",
        "N12 G83 G98 R2. Z-12. Q3. F120. X5. Y5.",
        "N13 G80",
        "N14 M5",
        "N15 G91 G28 Z0.",
        "N16 G90",
        "N17 M30",
        "%",
    )
    expected = {
        "program.number.digits": 4,
        "program.block_numbers.use": "every_block",
        "program.safe_start": ("G17 G40 G49 G80",),
        "numbers.length.point": "always",
        "words.distance": "absolute",
        "words.repeat_motion": False,
        "arcs.form": "radius",
        "retract.form": "reference",
        "codes.work_offset": "G54",
        "cycles.peck_letter": "Q",
        "stops.end": "M30",
    }
    assert expected.items() <= claimed(found).items()
    assert not [key for key in claimed(found) if key.endswith("decimals") or "clamp" in key or key == "arcs.centre_is"]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "has no block"),
        (b"dear reader\n", "has no block"),
        (b"G0 X1\n\xff\n", "which is not plain ASCII"),
        (b"X1 Y2\n", "has no block"),
    ],
)
def test_a_file_that_is_no_program_is_an_error(data: bytes, words: str) -> None:
    with pytest.raises(ProgramError, match=words):
        proposal(data, "part.nc", PARENT)


def test_a_program_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ProgramError, match=r"(?i)no such file"):
        create("shop-mill", "rs274ngc", tmp_path, example=tmp_path / "none.nc")
