"""What is said after a profile was made: its files, what the example showed, what to ask."""

from __future__ import annotations

from collections.abc import Sequence

from steadyrest.dialect.claims import Claim
from steadyrest.dialect.creating import Created
from steadyrest.dialect.settings import said


def created_text(created: Created) -> str:
    """One screen, or as long as the example has things to show."""
    lines = [f"{created.folder}: made, extends {created.parent}; its first part was posted and proved"]
    if created.proposal is not None and created.sorted is not None:
        lines += ["", f"{created.proposal.example} shows, different from {created.parent} and stated now:"]
        lines += _claims([(claim, "") for claim in created.sorted.stated])
        if created.sorted.asked:
            lines += ["", "to be asked first; a comment in controller.toml:"]
            lines += _claims(created.sorted.asked)
        lines += ["", f"{len(created.sorted.same)} more settings that it shows are those of {created.parent}; README.md has them"]
        lines += ["", "it does not show:", *(f"  - {sentence}" for sentence in created.proposal.unknown)]
    lines += [
        "",
        f"next: go through {created.folder / 'README.md'} at the machine, then",
        f"      steadyrest controller check {created.folder}",
    ]
    return "\n".join(lines)


def _claims(claims: Sequence[tuple[Claim, str]]) -> list[str]:
    lines: list[str] = []
    for claim, reason in claims:
        lines.append(f"  {claim.key} = {said(claim.value)}")
        where = f"line {claim.line}: {claim.text}" if claim.line else "the whole file"
        lines.append(f"      {where}  ({claim.why})")
        if reason:
            lines.append(f"      {reason}")
    return lines or ["  nothing"]
