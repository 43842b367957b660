"""Notices: what each kind says of its facts."""

from __future__ import annotations

import pytest

from steadyrest.errors import Place
from steadyrest.notices import KINDS, Notice, noticed


@pytest.mark.parametrize(("count", "said"), [(1, "1 rapid that"), (2, "2 rapids that"), (0, "0 rapids that")])
def test_a_number_stands_with_its_noun_in_the_plural_where_it_has_to(count: int, said: str) -> None:
    assert noticed("RapidRetracted", Place(operation=2), moves=count).sentence().startswith(said)


@pytest.mark.parametrize(("moves", "said"), [(1, "1 block:"), (2, "2 blocks:")])
def test_a_number_with_its_noun_stands_in_the_middle_of_a_sentence_too(moves: int, said: str) -> None:
    sentence = noticed("FeedRounded", Place(), moves=moves, worst_percent=1.25).sentence()
    assert f"F has too few decimals in {said} the tip's speed is off by up to 1.2 percent" == sentence


def test_figures_are_written_as_their_sentence_wants_them() -> None:
    slowed = noticed("FeedSlowed", Place(), moves=3, asked=3000.0, lowest=1193.80521, limit="A goes no faster", units="mm")
    assert "3 blocks slowed from 3000 to as little as 1193.81 mm/min: A goes no faster" == slowed.sentence()
    assert "unwinds (-2 whole turns)" in noticed("TurnedBack", Place(), turns=-2).sentence()


def test_a_kind_that_is_not_in_the_table_and_a_fact_that_is_missing_are_mistakes_of_ours() -> None:
    with pytest.raises(KeyError, match="Forgotten"):
        noticed("Forgotten", Place()).sentence()
    with pytest.raises(KeyError, match="moves"):
        noticed("FeedRounded", Place()).sentence()
    with pytest.raises(KeyError, match="reason"):
        noticed("Subdivided", Place(), what="arcs", moves=1, blocks=2).sentence()


def test_alike_notices_are_equal_and_each_kind_is_explained() -> None:
    assert noticed("TurnedBack", Place(move=1), turns=1) == Notice(Place(move=1), kind="TurnedBack", facts={"turns": 1})
    assert all(meaning.endswith(".") and says for meaning, says in KINDS.values())
