"""What all commands share: errors become their message and exit code, and the options that say for which controller."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

import click

P = ParamSpec("P")
R = TypeVar("R")


def plainly(command: Callable[P, R]) -> Callable[P, R]:
    """Turn every error on purpose into its message on stderr and its exit code; no traceback for bad input."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        from steadyrest.errors import SteadyrestError

        # A terminated process takes its half-written file away, as an interrupted one does.
        signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))
        try:
            return command(*args, **kwargs)
        except SteadyrestError as error:
            click.echo(f"steadyrest: {error}", err=True)
            sys.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("steadyrest: stopped by hand; nothing was put in place", err=True)
            sys.exit(130)

    return run


def settings(command: Callable[P, R]) -> Callable[P, R]:
    """Add the options that say for which controller, how close, and whether as JSON."""
    options = [
        click.option("--controller", "-c", default="rs274ngc", show_default=True, metavar="NAME|FOLDER",
                     help="An installed profile, or the path of a profile's folder."),
        click.option("--set", "sets", multiple=True, metavar="KEY=VALUE",
                     help="Override one setting for this run, such as rotary.A.chuck_faces=-X. Repeatable."),
        click.option("--tolerance", type=float, metavar="LENGTH",
                     help="How far the tip may leave its path, in the toolpath's units.  [default: 0.01 mm]"),
        click.option("--json", "as_json", is_flag=True, help="Print the result as JSON on stdout."),
    ]  # fmt: skip
    for option in reversed(options):
        command = option(command)
    return command
