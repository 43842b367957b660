"""The group `controller`: which profiles there are, what each one says, and how a shop keeps its own."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from click import argument, option

from steadyrest.cli.common import AS, FILE, QUIET, YES, Group, offer, print_json, print_text, say, telling


@click.group(cls=Group)
def controller() -> None:
    """List, show, make, check and compare controller profiles."""


@controller.command("list")
def list_() -> None:
    """List the profiles that are found, and where."""
    from steadyrest.profile import find_profiles, list_text

    print_text(list_text(find_profiles()), alone=True)


@controller.command("show")
@argument("name")
@option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="Change one setting. Repeatable.")
def show(name: str, sets: tuple[str, ...]) -> None:
    """Print a profile with all inherited settings, and the file that each value comes from."""
    from steadyrest.profile import resolve, show_text

    print_text(show_text(resolve(name, sets)), alone=True)


@controller.command("new")
@argument("name")
@option("--from", "parent", default="rs274ngc", show_default=True, metavar="NAME|FOLDER", help="The profile that it extends.")
@option("--in", "inside", type=FILE, default="controllers", show_default=True, metavar="FOLDER",
              help="The folder in which to make it.")  # fmt: skip
@option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="A setting that you know already. Repeatable.")
@option("--by-example", "example", type=FILE, metavar="PROGRAM",
              help="A program that runs on the machine: settings are read off it, each with the line that shows it.")  # fmt: skip
@option("--source", "sources", multiple=True, metavar="KEY=WHERE",
              help="Where a setting of --set was seen; it stands behind its line. Repeatable.")  # fmt: skip
@QUIET
@option("--json", "as_json", is_flag=True, help="Print what the example shows as JSON on stdout.")
def new(name: str, parent: str, inside: Path, sets: tuple[str, ...], example: Path | None, sources: tuple[str, ...],
        as_json: bool) -> None:  # fmt: skip
    """Make a profile of your own: a folder NAME with a commented controller.toml, questions to ask at the machine, and a test.

    What an example cannot show (how the rotary is mounted, what F means while it turns, its travel) is listed as open, never guessed.
    An existing folder is never overwritten.
    """
    from steadyrest.profile_tools import create, created_text

    with telling() as progress:
        created = create(name, parent, inside, sets=sets, example=example, sources=_by_key(sources), progress=progress)
    say(created_text(created))
    if as_json:
        found = created.proposal.as_json() if created.proposal is not None else {}
        print_json({"folder": str(created.folder), "extends": created.parent, **found})


def _by_key(sources: tuple[str, ...]) -> dict[str, str]:
    if wrong := [each for each in sources if not all(part.strip() for part in each.partition("="))]:
        raise click.UsageError(f"--source {wrong[0]!r} is not KEY=WHERE")
    return {key.strip(): where.strip() for key, _, where in (each.partition("=") for each in sources)}


@controller.command("set")
@argument("profile", metavar="NAME|FOLDER")
@argument("sets", nargs=-1, metavar="[KEY=VALUE]...")
@option(
    "--unset", multiple=True, metavar="KEY", help="State this no more: what the parent says holds. Its line becomes a comment. Repeatable."
)
@option("--source", default="", metavar="WHERE", help="Where you saw it; it stands behind the line.")
@AS
@YES
def set_(profile: str, sets: tuple[str, ...], unset: tuple[str, ...], source: str, child: str | None, yes: bool) -> None:
    """Change settings of a profile for good: what would change is shown first, and all comments are kept.

    A bundled profile is never changed: one of your own is made, or changed, that extends it.
    """
    from steadyrest.profile_tools import planned_change, set_values

    if not sets and not unset:
        raise click.UsageError("say what to change: KEY=VALUE, or --unset KEY")
    values = set_values(sets)
    change = planned_change(profile, values, dict.fromkeys(values, source), child=child, unset=unset, why=source)
    offer(change, yes=yes)


@controller.command("check")
@argument("profile", metavar="NAME|FOLDER")
@option("--strict", is_flag=True, help="Count remarks as errors: exit code 1.")
@QUIET
@option("--json", "as_json", is_flag=True, help="Print the results as JSON on stdout.")
def check(profile: str, strict: bool, as_json: bool) -> None:
    """Check a profile: settings, templates, sources, the test toolpaths posted and proved, extreme settings.

    Exit code 0: good; 1: the profile is wrong; 3: a program does not cut what its toolpath asks for.
    """
    from steadyrest.profile_tools import check as run

    with telling() as progress:
        report = run(profile, progress=progress)
    if as_json:
        print_json(report.data(strict=strict))
    else:
        print_text(report.text())
    sys.exit(report.exit_code(strict=strict))


@controller.command("compare")
@argument("first", metavar="A")
@argument("others", nargs=-1, metavar="[B] [TOOLPATH]")
@option("--tour", "on_tour", is_flag=True, help="Compare the programs of the tour: the toolpaths with which every profile is tested.")
@option("--all", "everything", is_flag=True, help="Show equal lines too, and long parts whole.")
@QUIET
@option("--json", "as_json", is_flag=True, help="Print the differences as JSON on stdout.")
def compare(first: str, others: tuple[str, ...], on_tour: bool, everything: bool, as_json: bool) -> None:
    """Show how two profiles differ, and with a TOOLPATH or --tour what each difference does to a program.

    A and B are names or folders; NAME@REVISION is the profile at that revision of its git repository. NAME@REVISION alone
    compares it with the profile of today, on the tour.
    """
    from steadyrest.profile_tools import compare as run
    from steadyrest.profile_tools import comparison_data, comparison_text, revision_in, side, tour
    from steadyrest.toolpath import load_toolpath

    if len(others) > 2:
        raise click.UsageError("give two profiles and one toolpath at most")
    toolpath = Path(others[-1]) if len(others) == 2 or (others and others[0].endswith(".json")) else None
    second = others[0] if len(others) > (toolpath is not None) else None
    name, revision = revision_in(first)
    if second is None:
        if not revision:
            raise click.UsageError("give a second profile, or NAME@REVISION to compare a profile with an older revision of it")
        second, on_tour = name, on_tour or toolpath is None
    toolpaths = tour() if on_tour else {}
    with telling() as progress, side(first) as one, side(second) as other:
        if toolpath is not None:
            toolpaths = {toolpath.name: load_toolpath(toolpath, progress), **toolpaths}
        found = run(one, other, toolpaths, progress=progress)
    if as_json:
        print_json(comparison_data(found), alone=True)
    else:
        print_text(comparison_text(found, everything=everything), alone=True)
