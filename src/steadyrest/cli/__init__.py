"""The command line: arguments and exit codes, no logic.

At import they need nothing but click, so that --help is quick; what a command needs is imported when it runs.
"""

from __future__ import annotations

import click

from steadyrest.cli.common import Group
from steadyrest.cli.controller import controller
from steadyrest.cli.machine import centre, turn_check
from steadyrest.cli.programs import deliver, page, post, prove, schema, take
from steadyrest.cli.show import explain, picture, report, setup_sheet

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 110}


@click.group(cls=Group, context_settings=CONTEXT)
@click.version_option(package_name="steadyrest", prog_name="steadyrest")
def main() -> None:
    """Toolpaths for a mill with a rotary become proved programs, in your shop's own dialect.

    The program moves a machine that can maim. Prove it out above the part: single block, reduced rapids, guards closed.
    The machine's own manual and local rules come first.
    """


for command in (take, post, prove, controller, schema, turn_check, centre, setup_sheet, report, picture, deliver, explain, page):
    main.add_command(command)
