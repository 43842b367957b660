"""What toolpath and profile say together about the set-up: a wrap that does not fit the stock, an indexed cut without a clamp."""

from __future__ import annotations

from steadyrest.conventions import MM_PER_INCH
from steadyrest.findings import Finding
from steadyrest.profile import Profile, Rotary
from steadyrest.proof import length_text
from steadyrest.toolpath import RoundStock, Toolpath, Wrapped

WRAP_OFF = 0.25
"""A wrapped cylinder that differs from round stock by more than this part of its diameter is worth a look (common practice: a groove
is wrapped on the skin, or on a diameter turned down a little before)."""


def set_up_findings(toolpath: Toolpath, profile: Profile, rotary: Rotary | None, *, inch: bool) -> tuple[Finding, ...]:
    """Wraps and clamps.

    rotary   the one that turns the part; None without one
    inch     lengths are said in inches, as in the program
    """
    found = []
    stock, scale = toolpath.stock, MM_PER_INCH if toolpath.units == "inch" else 1.0
    for number, operation in enumerate(toolpath.operations, 1):
        wrap = operation.rotary
        if isinstance(wrap, Wrapped) and isinstance(stock, RoundStock) and abs(wrap.diameter - stock.diameter) > WRAP_OFF * stock.diameter:
            likely = ": it looks like the radius" if abs(2 * wrap.diameter - stock.diameter) < 0.01 * stock.diameter else ""
            wrong = (
                f"wrapped round a cylinder of diameter {length_text(wrap.diameter * scale, inch=inch)}, the stock's diameter is "
                f"{length_text(stock.diameter * scale, inch=inch)}{likely}"
            )
            found.append(Finding("wrap", "look", wrong, operation=number))
    if rotary is not None and rotary.clamp.use == "never":
        indexed = [number for number, one in enumerate(toolpath.operations, 1) if one.rotary.intent == "indexed"]
        if indexed:
            wrong = f"{profile.name} has no clamp for the rotary: its drive alone holds the part in indexed cuts"
            found.append(Finding("clamp", "look", wrong, operation=indexed[0], count=len(indexed)))
    return tuple(found)
