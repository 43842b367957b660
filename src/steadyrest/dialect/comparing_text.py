"""How does a comparison look, on a screen and as data?"""

from __future__ import annotations

from typing import Any

from steadyrest.dialect.comparing import Comparison, ProgramsApart
from steadyrest.dialect.reasons import PartRows, Row
from steadyrest.dialect.settings import Absent, said

WIDTH = 34
MOST_ROWS = 8
"""So many rows of one part are shown before the rest is counted, unless all are asked for."""


def comparison_text(comparison: Comparison, *, everything: bool = False) -> str:
    """The comparison for a person. `everything` shows equal lines too, and every row of long parts."""
    lines = [f"{comparison.first}  |  {comparison.second}", ""]
    lines += [*_settings(comparison), ""]
    for program in comparison.programs:
        lines += [*([""] if program.differs else []), *_program(program, everything)]
    same = [program.toolpath for program in comparison.programs if not program.differs]
    if comparison.programs:
        lines += ["", f"{len(comparison.programs) - len(same)} of {len(comparison.programs)} programs differ"]
    return "\n".join(lines) + "\n"


def short(origin: str) -> str:
    """The folder and the file are enough for a person to know whose setting it is."""
    return "/".join(origin.replace("\\", "/").split("/")[-2:])


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """The same as data; values that are not there are null, lines that are equal are left out."""
    return {
        "first": comparison.first,
        "second": comparison.second,
        "settings": [
            {
                "key": each.key,
                "first": None if isinstance(each.first, Absent) else each.first,
                "second": None if isinstance(each.second, Absent) else each.second,
                "first_origin": each.first_origin or None,
                "second_origin": each.second_origin or None,
            }
            for each in comparison.settings
        ],
        "templates": [{"name": each.name, "first": each.first or None, "second": each.second or None} for each in comparison.templates],
        "programs": [
            {
                "toolpath": program.toolpath,
                "differs": program.differs,
                "first": {"outcome": program.outcomes[0][0], "words": program.outcomes[0][1]},
                "second": {"outcome": program.outcomes[1][0], "words": program.outcomes[1][1]},
                "everywhere": list(program.everywhere),
                "without_effect": list(program.without_effect),
                "parts": [
                    {
                        "name": part.name,
                        "operation": part.operation,
                        "rows": [
                            {"first": row.first, "second": row.second, "reasons": list(row.reasons)} for row in part.rows if row.reasons
                        ],
                    }
                    for part in program.parts
                    if part.differs
                ],
            }
            for program in comparison.programs
        ],
    }


def _settings(comparison: Comparison) -> list[str]:
    if not comparison.settings and not comparison.templates:
        return ["no setting and no template differs"]
    lines = [f"{len(comparison.settings)} setting(s) differ" if comparison.settings else "no setting differs"]
    for each in comparison.settings:
        lines.append(f"  {each.key}")
        for label, value, origin in (
            (comparison.first, each.first, each.first_origin),
            (comparison.second, each.second, each.second_origin),
        ):
            lines.append(f"      {label}: {said(value)}" + (f"  ({short(origin)})" if origin else ""))
    if comparison.templates:
        lines.append(f"{len(comparison.templates)} template(s) differ")
        lines += [f"  {each.name}: {each.first or 'not there'} | {each.second or 'not there'}" for each in comparison.templates]
    return lines


def _program(program: ProgramsApart, everything: bool) -> list[str]:
    outcomes = " | ".join(outcome for outcome, _ in program.outcomes)
    refused = all(outcome == "refused" for outcome, _ in program.outcomes)
    same = "; in the same words" if refused else "; the programs are the same"
    lines = [f"== {program.toolpath}: {outcomes}" + ("" if program.differs else same)]
    lines += [f"   {outcome}: {words}" for outcome, words in program.outcomes if outcome in ("not proved", "broken")]
    skipped = 0
    for part in program.parts:
        if not part.differs and not everything:
            skipped += len(part.rows)
            continue
        if skipped:
            lines.append(f"   ... {skipped} equal line(s)")
            skipped = 0
        lines += _part(part, everything)
    if skipped and program.differs:
        lines.append(f"   ... {skipped} equal line(s)")
    if program.everywhere:
        lines.append(f"   on every line, and left out above: {', '.join(program.everywhere)}")
    if program.differs and program.without_effect:
        lines.append(f"   changes nothing here: {', '.join(program.without_effect)}")
    return lines


def _part(part: PartRows, everything: bool) -> list[str]:
    where = f"operation {part.operation}, " if part.operation else ""
    lines = [f"   {where}{part.name.replace('_', ' ')}"]
    rows = [row for row in part.rows if row.reasons or everything]
    shown = rows if everything else rows[:MOST_ROWS]
    lines += [_row(row) for row in shown]
    if len(rows) > len(shown):
        reasons = sorted({reason for row in rows[len(shown) :] for reason in row.reasons})
        lines.append(f"      ... {len(rows) - len(shown)} more line(s)  <- {', '.join(reasons)}")
    return lines


def _row(row: Row) -> str:
    first = "-" if row.first is None else row.first.rstrip("\r")
    second = "-" if row.second is None else row.second.rstrip("\r")
    if not row.reasons:
        return f"      {first:<{WIDTH}}   {second}"
    return f"      {first:<{WIDTH}} | {second:<{WIDTH}}  <- {', '.join(row.reasons)}"
