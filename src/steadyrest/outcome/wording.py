"""How an outcome and its findings are said, on the screen and on every page."""

from __future__ import annotations

from collections.abc import Mapping

from steadyrest.errors import Place
from steadyrest.findings import Finding
from steadyrest.outcome.outcome import Outcome


def outcome_line(outcome: Outcome) -> str:
    """What the word means here, in a few words."""
    stops = sum(one.weight == "stop" for one in outcome.findings)
    looks = len(outcome.findings) - stops
    if outcome.word == "run":
        return "proved, simulated, nothing found"
    if outcome.word == "look":
        return f"proved; {_things(looks)} to look at before the first run"
    if any(one.name == "proof" for one in outcome.findings):
        return "not proved: it must not run"
    return f"it must not run: {_things(stops)} against it"


def finding_text(finding: Finding, names: Mapping[int, str]) -> str:
    """A finding with its place, as every screen and page says it. `names`: of operations by their number."""
    operation = finding.operation
    place = Place(line=finding.line, operation=operation, operation_name=names.get(operation or 0) or None, move=finding.move)
    often = f", {finding.count} times" if finding.count > 1 else ""
    text = f"{finding.name}: {finding.sentence}"
    if str(place) or often:
        text += f" ({f'{place}{often}' if str(place) else often[2:]})"
    if finding.accepted:
        text += " - accepted"
    if finding.consequences:
        text += "; of that comes: " + "; ".join(
            f"{one.sentence}, {one.count} times" if one.count > 1 else one.sentence for one in finding.consequences
        )
    return text


def _things(count: int) -> str:
    return "1 thing" if count == 1 else f"{count} things"
