"""How is a length or an angle read on paper?"""

from __future__ import annotations

MM_PER_INCH = 25.4


def number(value: float) -> str:
    """A length or an angle as it is read on paper: three decimals at most."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
