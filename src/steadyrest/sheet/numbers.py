"""How is a length or an angle read on paper?"""

from __future__ import annotations

from steadyrest.conventions import MM_PER_INCH


def of_part(length_mm: float, units: str) -> str:
    """A length of the profile, mm, as it is read in the part's units."""
    return number(length_mm / (MM_PER_INCH if units == "inch" else 1.0))


def number(value: float) -> str:
    """A length or an angle as it is read on paper: three decimals at most."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
