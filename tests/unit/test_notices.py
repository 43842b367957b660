"""A notice says its facts in one sentence."""

from __future__ import annotations

import pytest

from steadyrest.errors import Place
from steadyrest.notices import noticed


@pytest.mark.parametrize(("moves", "said"), [(1, "1 block:"), (2, "2 blocks:")])
def test_a_number_with_its_noun_is_in_the_plural_where_it_has_to_be(moves: int, said: str) -> None:
    sentence = noticed("FeedRounded", Place(), moves=moves, worst_percent=1.25).sentence()
    assert f"F has too few decimals in {said} the tip's speed is off by up to 1.2 percent" == sentence


def test_turns_back_have_their_sign() -> None:
    assert "(-2 whole turns)" in noticed("TurnedBack", Place(), turns=-2).sentence()


@pytest.mark.parametrize("facts", [{}, {"moves": 1}])
def test_a_notice_without_all_facts_of_its_sentence_is_a_mistake_of_ours(facts: dict[str, int]) -> None:
    with pytest.raises(KeyError):
        noticed("FeedRounded", Place(), **facts).sentence()
