"""Which of a proposal's settings can be put into a new profile, and which have to wait for an answer?"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from steadyrest.dialect.claims import Claim
from steadyrest.dialect.settings import Absent, value_of, with_values
from steadyrest.errors import ProfileError
from steadyrest.profile import Profile


@dataclass(frozen=True, slots=True)
class Sorted:
    """Claims by what is done with them.

    stated   different from the parent, sure, and possible together: they go into the file
    asked    different from the parent, with the reason why they wait for an answer: they go into the file as a comment
    same     what the parent says anyway
    """

    stated: tuple[Claim, ...]
    asked: tuple[tuple[Claim, str], ...]
    same: tuple[Claim, ...]


def sorted_claims(claims: Sequence[Claim], parent: Profile, given: Mapping[str, Any], fails: Callable[[Profile], str]) -> Sorted:
    """Sort the claims of an example.

    given   settings stated by whoever asks: they win
    fails   why a profile cannot write its first program; empty when it can
    """
    left = [claim for claim in claims if claim.key not in given]
    same = [claim for claim in left if _inherited(parent, claim.key) == claim.value]
    left = [claim for claim in left if claim not in same]
    asked = [(claim, "only likely") for claim in left if not claim.sure]
    left = [claim for claim in left if claim.sure]
    lacking = [claim for claim in left if claim.key.startswith("rotary.") and isinstance(value_of(parent, _rotary(claim.key)), Absent)]
    asked += [(claim, f"the parent has no {_rotary(claim.key)}; state how it is mounted first") for claim in lacking]
    left = [claim for claim in left if claim not in lacking]
    stated, refused = _possible(left, parent, given, fails)
    return Sorted(tuple(stated), (*asked, *refused), tuple(same))


def _possible(
    claims: list[Claim], parent: Profile, given: Mapping[str, Any], fails: Callable[[Profile], str]
) -> tuple[list[Claim], list[tuple[Claim, str]]]:
    """As many claims as can stand together and give a program, added one by one and again, since one may need another."""

    def error(together: Sequence[Claim]) -> str:
        try:
            profile = with_values(parent, {**{claim.key: claim.value for claim in together}, **given})
        except ProfileError as wrong:
            return wrong.wrong
        return fails(profile)

    if not error(claims):
        return claims, []
    stated: list[Claim] = []
    left = list(claims)
    while True:
        before = len(left)
        for claim in list(left):
            if not error([*stated, claim]):
                stated.append(claim)
                left.remove(claim)
        if len(left) == before:
            break
    return stated, [(claim, f"not with the other settings: {error([*stated, claim])}") for claim in left]


def _inherited(parent: Profile, key: str) -> Any:
    """What holds without a statement; decimals in inch programs are those of mm programs where unset."""
    value = value_of(parent, key)
    if value is None and key.endswith("inch_decimals"):
        return value_of(parent, key.replace("inch_decimals", "decimals"))
    return value


def _rotary(key: str) -> str:
    return ".".join(key.split(".")[:2])
