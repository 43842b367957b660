"""The whole job of somebody new, in a real browser: from a dropped CL file to a delivered program, at either end of the table."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browser_page import opened
from test_page_part import SLOT

from steadyrest.posting import prove
from steadyrest.request import Request

pytestmark = pytest.mark.browser


def words(program: Path, letter: str) -> set[float]:
    return {float(word) for word in re.findall(rf"\b{letter}(-?[0-9.]+)", program.read_text())}


def test_from_a_dropped_file_to_a_delivered_program_at_both_ends_of_the_table(address: str, parts: Path) -> None:
    """A slot at 90 degrees from X -10 to -30, held at X -90. ISO 841 (from memory): with the chuck facing +X and turning clockwise the slot
    comes up at A 90. At the other end of the table the job is turned by half a turn about Z: X and Y change sign, so the slot is cut from X
    10 to 30, and as the chuck's clockwise is now right-hand about +X, it comes up at A 90 again.
    """
    (parts.parent / "slot.cl").write_text(SLOT)
    delivered = parts.parent / "machine" / "slot.nc"
    with opened(1366, 768) as page:
        page.goto(address)
        page.set_input_files("#dropped", str(parts.parent / "slot.cl"))
        page.get_by_role("button", name="Begin").click()
        page.get_by_label("end mill, flat end").check()
        page.locator("[name='tool.7.diameter']:enabled").fill("6")
        page.locator("#stock-shape").select_option("round")
        for name, value in (("diameter", "40"), ("from", "-90"), ("to", "0"), ("held.length", "20")):
            page.locator(f"[name='stock.{name}']:enabled").fill(value)
        page.locator("[name='stock.held.at']:enabled").select_option("from")
        page.get_by_role("button", name="Keep").click()
        for faces, along in (("+X", {-10.0, -30.0}), ("-X", {10.0, 30.0})):
            page.get_by_role("link", name="How it stands today").first.click()
            page.locator(f"form[action*='/today?'] input[name=chuck_faces][value='{faces}']").check()
            page.locator("input[name=turns][value=clockwise]").check()
            page.get_by_role("button", name="Keep for this job").click()
            page.get_by_text(f"the chuck faces {faces}").wait_for()
            page.get_by_role("link", name="Look", exact=True).first.click()
            page.locator("#verdict.look").wait_for(timeout=120_000)
            page.get_by_role("link", name="Deliver", exact=True).first.click()
            page.get_by_role("button", name="Deliver").click()
            page.get_by_role("heading", name="Delivered, and read back").wait_for(timeout=120_000)
            assert along == words(delivered, "X")
            assert {90.0} == words(delivered, "A")
            assert prove(delivered, Request(parts / "slot.job.toml").with_job()).verdict.proved
    assert 1 == len(list(delivered.parent.glob("*.old"))), "the program for the other end is kept"
