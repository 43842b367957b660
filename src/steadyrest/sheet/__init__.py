"""The setup sheet: what somebody has to know to set the machine up for one program, on paper."""

from steadyrest.sheet.facts import (
    SheetFacts,
    setup_front_fragment,
    setup_sheet,
    setup_sheet_fragment,
    setup_sheet_page,
    setup_sheet_style,
    sheet_facts,
)
from steadyrest.sheet.mounting import mounting_drawings

__all__ = [
    "SheetFacts", "mounting_drawings", "setup_front_fragment", "setup_sheet", "setup_sheet_fragment", "setup_sheet_page",
    "setup_sheet_style", "sheet_facts",
]  # fmt: skip
