"""Units, pauses, texts."""

from cl_text import HEAD, moves_of, piece_of

ABOVE = "RAPID\nGOTO/0,0,10\n"


def test_pauses_and_texts() -> None:
    body = f"{ABOVE}PPRINT clean the chips\nDELAY/0.5\nDELAY/4,REV\nOPSTOP\nSTOP\n"
    assert [
        {"note": "clean the chips"},
        {"dwell": 0.5},
        {"dwell": 0.03},
        {"stop": {"optional": True}},
        {"stop": {"optional": False}},
    ] == moves_of(body)[1:]


def test_insert_may_become_a_note_that_is_no_code() -> None:
    assert {"note": "INSERT G1 X5 $ %"} == moves_of(f"{ABOVE}INSERT G1 X5 $ %\nDELAY/1\n", insert="note")[1]


def test_centimetres_become_millimetres() -> None:
    assert [10, 20, 30] == moves_of("RAPID\nGOTO/1,2,3\n", head=HEAD.replace("MM", "CM"))[0]["rapid"]


def test_inches_stay_inches() -> None:
    assert "inch" == piece_of("RAPID\nGOTO/1,2,3\n", head=HEAD.replace("MM", "INCHES")).units
