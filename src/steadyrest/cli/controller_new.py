"""The command `controller new`."""

from __future__ import annotations

from pathlib import Path

import click

from steadyrest.cli.common import plainly, print_json, say


@click.command("new")
@click.argument("name")
@click.option("--from", "parent", default="rs274ngc", show_default=True, metavar="NAME|FOLDER", help="The profile that it extends.")
@click.option("--in", "inside", type=click.Path(path_type=Path), default="controllers", show_default=True, metavar="FOLDER",
              help="Where the new folder is put.")  # fmt: skip
@click.option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="A difference that is known already. Repeatable.")
@click.option("--by-example", "example", type=click.Path(path_type=Path), metavar="PROGRAM",
              help="A program that you trust: the settings that it shows are stated, each with the line that shows it.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print what the example shows as JSON on stdout.")
@plainly
def new(name: str, parent: str, inside: Path, sets: tuple[str, ...], example: Path | None, as_json: bool) -> None:
    """Make a profile of your own: a folder NAME with a commented controller.toml, questions to ask at the machine, and a test.

    What an example cannot show (how the rotary is mounted, what F means while it turns, how far it goes) is said, and never guessed.
    An existing folder is never overwritten.
    """
    from steadyrest.profile_tools import create, created_text

    created = create(name, parent, inside, sets=sets, example=example)
    say(created_text(created))
    if as_json:
        found = created.proposal.as_json() if created.proposal is not None else {}
        print_json({"folder": str(created.folder), "extends": created.parent, **found})
