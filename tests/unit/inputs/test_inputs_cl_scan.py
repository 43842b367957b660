"""A CL file as bytes: what is refused, what is left out, and numbers as FORTRAN writes them."""

import pytest
from cl_text import HEAD, moves_of, operations_of, piece_of

from steadyrest.errors import ToolpathError
from steadyrest.inputs.cl import cl_piece
from steadyrest.inputs.options import InputOptions, PartOptions

AT = "RAPID\nGOTO/1,2,3\n"


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"", "the file is empty"),
        (b" \n\n", "the file is empty"),
        (b"UNITS/MM\nPPRINT \xe4\nFINI\n", "0xe4 is not UTF-8"),
        ("UNITS/MM\nFINI\n".encode("utf-16"), "not UTF-8|control character"),
        (b"UNITS/MM\n\x00\x01\nFINI\n", "control character 0x00"),
        ("UNITS/MM\nFEDRAT/\u00e9\nFINI\n".encode(), "has no meaning in a statement"),
        (b"UNITS/MM\nFINI\n", "no motion in the file"),
        (HEAD.encode() + b"GOTO/1,2,$", "ends in the middle of a statement"),
    ],
)
def test_broken_files_are_refused(data: bytes, wrong: str) -> None:
    with pytest.raises(ToolpathError, match=wrong):
        cl_piece(data, "part.cl", InputOptions(), PartOptions())


def test_a_byte_order_mark_and_any_line_ends_are_taken() -> None:
    text = HEAD + AT + "FINI\n"
    for data in (b"\xef\xbb\xbf" + text.encode(), text.replace("\n", "\r\n").encode(), text.replace("\n", "\r").encode()):
        assert [{"rapid": [1, 2, 3]}] == cl_piece(data, None, InputOptions(), PartOptions()).operations[0]["moves"]  # type: ignore[index]


def test_card_columns_are_left_out_where_it_is_said() -> None:
    cards = "".join(f"{line:<72}{number:08d}\n" for number, line in enumerate((HEAD + AT + "FINI").splitlines()))
    assert [{"rapid": [1, 2, 3]}] == cl_piece(cards.encode(), None, InputOptions(cards=True), PartOptions()).operations[0]["moves"]  # type: ignore[index]
    with pytest.raises(ToolpathError):
        cl_piece(cards.encode(), None, InputOptions(), PartOptions())


@pytest.mark.parametrize("number", ["1.5D+02", "1.5d2", "15D1", "+.15D+03", "1.5 D 2", "1.5E+02"])
def test_an_exponent_may_be_written_with_d(number: str) -> None:
    assert [0, 150, -150] == moves_of(f"RAPID\nGOTO/0,{number},-{number.lstrip('+')}\n")[0]["rapid"]
    assert 150 == piece_of("GOTO/1,2,3\n", head=HEAD.replace("900", number)).operations[0]["moves"][0]["feed"]


def test_points_with_exponents_in_d_are_read_as_fast_and_as_right() -> None:
    rows = [(f"{n}.25D-01", n * 0.1 + 0.025) for n in range(300)]
    (operation,) = operations_of("RAPID\n" + "".join(f"GOTO/{text},0.D+00,0.5D+01\n" for text, _ in rows))
    (block,) = operation["table"].blocks()
    assert [value for _, value in rows] == pytest.approx(block["x"].tolist(), abs=1e-12)
    assert {5.0} == set(block["z"].tolist())
