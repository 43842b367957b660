"""Whatever text is given as an example, it is read or refused in words; what is claimed can be put into a profile or waits."""

from __future__ import annotations

import contextlib

from hypothesis import given
from hypothesis import strategies as st

from steadyrest.errors import ProgramError
from steadyrest.profile import load_profile
from steadyrest.profile_tools.proposal import proposal, sorted_claims
from steadyrest.profile_tools.settings import with_values

PARENT = load_profile("rs274ngc")

NUMBERS = st.one_of(
    st.integers(-99999, 99999).map(str),
    st.decimals(-9999, 9999, places=3).map(str),
    st.sampled_from(["0", "-0.", ".5", "+1.", "1.", "00", "007", "-.125"]),
)
WORDS = st.one_of(
    st.sampled_from(
        [
            "G0",
            "G00",
            "G1",
            "G2",
            "G3",
            "G17",
            "G18",
            "G19",
            "G90",
            "G91",
            "G93",
            "G94",
            "G28",
            "G53",
            "G54",
            "G43",
            "G81",
            "G83",
            "G80",
            "M3",
            "M5",
            "M6",
            "M8",
            "M10",
            "M11",
            "M30",
            "G4",
            "G20",
            "G21",
        ]
    ),
    st.tuples(st.sampled_from("XYZABCIJKRFSTPQHDUE"), NUMBERS).map("".join),
)
BLOCKS = st.tuples(
    st.sampled_from(["", "N10 ", "N0001", "/", "/N5"]),
    st.tuples(st.lists(WORDS, max_size=7), st.sampled_from(["", " "])).map(lambda pair: pair[1].join(pair[0])),
    st.sampled_from(["", "", " (comment)", " ;comment", "\r"]),
).map("".join)
LINES = st.one_of(BLOCKS, BLOCKS, BLOCKS, st.sampled_from(["%", "O0001", ":12", "#100=5", "X[#100]", ""]), st.text(max_size=12))


@given(st.lists(LINES, max_size=40).map("\n".join))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    with contextlib.suppress(ProgramError):
        found = proposal(text.encode("utf-8", "surrogatepass"), "part.nc", PARENT)
        assert all(claim.why and (claim.line == 0 or claim.text in text) for claim in found.claims)


@given(st.lists(BLOCKS, min_size=3, max_size=30).map("\n".join))
def test_what_is_stated_can_always_stand_together(text: str) -> None:
    with contextlib.suppress(ProgramError):
        found = proposal(text.encode(), "part.nc", PARENT)
        stated, asked, same = sorted_claims(found.claims, PARENT, {}, lambda _: "")
        assert with_values(PARENT, {claim.key: claim.value for claim in stated})
        assert len(found.claims) == len(stated) + len(asked) + len(same)
