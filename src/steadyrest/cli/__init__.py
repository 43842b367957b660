"""The command line: arguments and exit codes, no logic.

One module a command. At import they need nothing but click, so that --help is quick; what a command needs is imported when it runs.
"""

from __future__ import annotations

import click

from steadyrest.cli.centre import centre
from steadyrest.cli.controller import controller
from steadyrest.cli.post import deliver, post, prove
from steadyrest.cli.schema import schema
from steadyrest.cli.show import explain, picture, report, setup_sheet
from steadyrest.cli.take import take
from steadyrest.cli.turn_check import turn_check

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 110}


@click.group(context_settings=CONTEXT)
@click.version_option(package_name="steadyrest", prog_name="steadyrest")
def main() -> None:
    """Toolpaths for a mill with a rotary become proved programs, in your shop's own dialect.

    The program moves a machine that can maim. Prove it out above the part: single block, reduced rapids, guards closed.
    The machine's own manual and local rules come first.
    """


for command in (take, post, prove, controller, schema, turn_check, centre, setup_sheet, report, picture, deliver, explain):
    main.add_command(command)
