"""The group `controller`: which profiles there are, what each one says, and how a shop keeps its own."""

from __future__ import annotations

import click

from steadyrest.cli.common import plainly, print_text
from steadyrest.cli.controller_check import check
from steadyrest.cli.controller_compare import compare
from steadyrest.cli.controller_new import new


@click.group()
def controller() -> None:
    """Controller profiles: which there are, what each one says, and how a shop keeps its own."""


for command in (new, check, compare):
    controller.add_command(command)


@controller.command("list")
@plainly
def list_() -> None:
    """List the profiles that are found, and where."""
    from steadyrest.profile import find_profiles, list_text

    print_text(list_text(find_profiles()))


@controller.command("show")
@click.argument("name")
@click.option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="Override one setting. Repeatable.")
@plainly
def show(name: str, sets: tuple[str, ...]) -> None:
    """Print a profile with all that it inherits, and the file that each value came from."""
    from steadyrest.profile import resolve, show_text

    print_text(show_text(resolve(name, sets)))
