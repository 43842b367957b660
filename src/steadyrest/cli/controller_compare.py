"""The command `controller compare`."""

from __future__ import annotations

from pathlib import Path

import click

from steadyrest.cli.common import plainly, print_json, print_text


@click.command("compare")
@click.argument("first", metavar="A")
@click.argument("others", nargs=-1, metavar="[B] [TOOLPATH]")
@click.option("--tour", "on_tour", is_flag=True, help="Compare the programs of the tour, the toolpaths on which every profile is tried.")
@click.option("--all", "everything", is_flag=True, help="Show equal lines too, and long parts whole.")
@click.option("--json", "as_json", is_flag=True, help="Print the differences as JSON on stdout.")
@plainly
def compare(first: str, others: tuple[str, ...], on_tour: bool, everything: bool, as_json: bool) -> None:
    """Show in what two profiles differ, and with a TOOLPATH or --tour what each difference does to a program.

    A and B are names or folders; NAME@REVISION is what the profile said at that revision of its git repository. NAME@REVISION alone
    compares that with what it says now, on the tour.
    """
    from steadyrest.profile_tools import compare as run
    from steadyrest.profile_tools import comparison_data, comparison_text, revision_in, side, tour
    from steadyrest.toolpath import load_toolpath

    second, toolpath = _sorted(others)
    name, revision = revision_in(first)
    if second is None:
        if not revision:
            raise click.UsageError("give a second profile, or NAME@REVISION to compare it with what it was")
        second, on_tour = name, on_tour or toolpath is None
    toolpaths = tour() if on_tour else {}
    if toolpath is not None:
        toolpaths = {toolpath.name: load_toolpath(toolpath), **toolpaths}
    with side(first) as one, side(second) as other:
        found = run(one, other, toolpaths)
    if as_json:
        print_json(comparison_data(found))
    else:
        print_text(comparison_text(found, everything=everything))


def _sorted(others: tuple[str, ...]) -> tuple[str | None, Path | None]:
    """Which of the arguments is the second profile and which the toolpath."""
    if len(others) > 2:
        raise click.UsageError("give two profiles and one toolpath at most")
    if len(others) == 2:
        return others[0], Path(others[1])
    if others and others[0].endswith(".json"):
        return None, Path(others[0])
    return (others[0], None) if others else (None, None)
