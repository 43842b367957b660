"""The setup sheet: what somebody has to know to set the machine up for one program, on paper."""

from steadyrest.sheet.chain_drawing import chain_drawings
from steadyrest.sheet.facts import (
    SheetFacts,
    origin_lines,
    setup_front_fragment,
    setup_sheet,
    setup_sheet_fragment,
    setup_sheet_page,
    setup_sheet_style,
    sheet_facts,
)
from steadyrest.sheet.in_chuck import Holding, held_at, holding, stock_lines
from steadyrest.sheet.mounting import (
    Drawing,
    MountingFacts,
    chuck_drawing,
    mounting_drawings,
    mounting_facts,
    moving_drawing,
    standing_drawing,
    standing_words,
)

__all__ = [
    "Drawing", "Holding", "MountingFacts", "SheetFacts", "chain_drawings", "chuck_drawing", "held_at", "holding", "mounting_drawings",
    "mounting_facts", "moving_drawing", "origin_lines", "setup_front_fragment", "setup_sheet", "setup_sheet_fragment", "setup_sheet_page",
    "setup_sheet_style", "sheet_facts", "standing_drawing", "standing_words", "stock_lines",
]  # fmt: skip
