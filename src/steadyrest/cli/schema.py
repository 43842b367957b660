"""The command `schema`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from steadyrest.cli.common import plainly, print_text, put

WHAT = ["toolpath", "controller", "job"]


@click.command()
@click.argument("what", type=click.Choice(WHAT))
@click.option("--output", "-o", type=click.Path(path_type=Path), help="Write it into this file, for an editor to find.")
@plainly
def schema(what: str, output: Path | None) -> None:
    """Print the JSON schema of toolpath files, of controller.toml files, or of job files.

    Editors that know JSON schema complete keys by it, show what each one means, and mark what is wrong.
    """
    text = json.dumps(_schema(what), indent=2)
    if output is None:
        print_text(text)
    else:
        put(f"{text}\n".encode("ascii"), output)


def _schema(what: str) -> dict[str, Any]:
    if what == "toolpath":
        from steadyrest.toolpath import toolpath_schema

        return toolpath_schema()
    if what == "controller":
        from steadyrest.profile import profile_schema

        return profile_schema()
    from steadyrest.inputs import job_schema

    return job_schema()
