"""The command `controller check`."""

from __future__ import annotations

import sys

import click

from steadyrest.cli.common import plainly, print_json, print_text


@click.command("check")
@click.argument("profile", metavar="NAME|FOLDER")
@click.option("--strict", is_flag=True, help="Remarks count as mistakes: exit code 1.")
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON on stdout.")
@plainly
def check(profile: str, strict: bool, as_json: bool) -> None:
    """Check a profile: settings, templates, sources, the tour posted and proved, settings that nobody would choose.

    Exit code 0: good; 1: the profile is wrong; 3: a program does not cut what its toolpath says.
    """
    from steadyrest.profile_tools import check as run

    report = run(profile)
    if as_json:
        print_json(report.data(strict=strict))
    else:
        print_text(report.text())
    sys.exit(report.exit_code(strict=strict))
