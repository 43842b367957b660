"""What holds for every step alike: read in the dark, on a phone, a laptop and a large screen, by eye or by a screen reader."""

from __future__ import annotations

import pytest
from browser_page import accessible, opened
from page_client import JOB

from steadyrest.page.app import STEPS

READY = {"look": "html[data-charts]", "program": "#program[data-ready]"}

pytestmark = [pytest.mark.browser, pytest.mark.long]


def test_every_step_is_accessible_in_the_dark_and_fits_any_width(address: str) -> None:
    with opened(1366, 768, color_scheme="dark") as page:
        for step, _ in STEPS:
            page.goto(f"{address}{step}?job={JOB}")
            page.wait_for_selector(READY.get(step, "main form"), timeout=120_000)
            assert (step, []) == (step, accessible(page))
            for width in (390, 1366, 1920):
                page.set_viewport_size({"width": width, "height": 844})
                assert (step, True) == (step, page.evaluate("document.documentElement.scrollWidth") <= width)
