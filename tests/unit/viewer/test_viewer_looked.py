"""A finished program is looked at whole: also without stock, and with a tool that the toolpath does not have."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from viewer_parts import FLATS, looked, part, program_of


def test_without_stock_the_rest_is_still_looked_at() -> None:
    seen = looked(part(FLATS, stock=None, clearance=25))
    assert seen.cut is None
    assert "no stock" in seen.not_cut
    assert seen.posted.verdict.proved


def test_a_tool_that_the_toolpath_does_not_have_is_a_finding_and_no_crash() -> None:
    seen = looked(text=program_of(part()).replace(b"T2 M6", b"T9 M6"))
    assert not seen.posted.verdict.proved
    assert seen.cut is None
    assert "tool 9" in seen.not_cut


def test_a_turned_mounting_shows_the_same_part() -> None:
    one, other = looked(), looked(None, None, "rotary.A.chuck_faces=-X")
    assert replace(one.posted.verdict, toolpath_digest="", profile_digest="").proved
    a, b = (each.track.part_mm(each.setting)[~each.track.rapid] for each in (one, other))
    np.testing.assert_allclose(a, b, atol=0.002)
    assert one.setting.sigma == -other.setting.sigma
