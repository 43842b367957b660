"""Which colours are told apart by everybody?"""

from __future__ import annotations

OPERATION_COLOURS = ("#0072b2", "#e69f00", "#009e73", "#cc79a7", "#56b4e9", "#d55e00", "#f0e442")
"""Seven of the eight colours of M. Okabe and K. Ito, Color Universal Design, 2008, in an order in which neighbours differ in lightness;
black is left to the text. They are used again from the start for the eighth operation, and the operation's number always stands beside."""

SKIN_COLOUR = "#a7abb0"
"""What no tool has cut."""

RAPID_COLOUR = "#8a8f98"

CHUCK_COLOUR = "#4a4f57"

NOT_COMPARED_COLOUR = "#665f6e"
"""What the program does after the first difference: dark, so that nobody takes it for an operation."""


def colour_of(operation: int) -> str:
    """The colour of an operation, from 1; 0 is the stock's skin."""
    return SKIN_COLOUR if operation <= 0 else OPERATION_COLOURS[(operation - 1) % len(OPERATION_COLOURS)]


def channels(colour: str) -> tuple[int, int, int]:
    """`#rrggbb` as three numbers from 0 to 255."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
