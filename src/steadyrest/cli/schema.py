"""The command `schema`."""

from __future__ import annotations

import json
from typing import Any

import click

from steadyrest.cli.common import plainly


@click.command()
@click.argument("what", type=click.Choice(["toolpath", "controller"]))
@plainly
def schema(what: str) -> None:
    """Print the JSON schema of toolpath files, or of controller.toml files."""
    found: dict[str, Any]
    if what == "toolpath":
        from steadyrest.toolpath import toolpath_schema

        found = toolpath_schema()
    else:
        from steadyrest.profile import profile_schema

        found = profile_schema()
    click.echo(json.dumps(found, indent=2))
