"""The command line: arguments and exit codes, no logic. What a command needs is imported when it runs, so that --help is quick."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import click

P = ParamSpec("P")
R = TypeVar("R")

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 110}


def plainly(command: Callable[P, R]) -> Callable[P, R]:
    """Turn every error on purpose into its message on stderr and its exit code; no traceback for bad input."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        from steadyrest.errors import SteadyrestError

        try:
            return command(*args, **kwargs)
        except SteadyrestError as error:
            click.echo(f"steadyrest: {error}", err=True)
            sys.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("steadyrest: stopped by hand; nothing was put in place", err=True)
            sys.exit(130)

    return run


@click.group(context_settings=CONTEXT)
@click.version_option(package_name="steadyrest", prog_name="steadyrest")
def main() -> None:
    """Toolpaths for a mill with a rotary become proved programs, in your shop's own dialect.

    The program moves a machine that can maim. Prove it out above the part: single block, reduced rapids, guards closed.
    The machine's own manual and local rules come first.
    """


def _settings(command: Callable[P, R]) -> Callable[P, R]:
    """The options that say for which controller, and how close."""
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


def _shown_lines(lines: int) -> None:
    click.echo(f"\r{lines:>12,} lines written", nl=False, err=True)


@main.command()
@click.argument("toolpath", type=click.Path(path_type=Path))
@_settings
@click.option("--output", "-o", type=click.Path(path_type=Path), required=True, help="The program's file.")
@click.option("--origin-is-meant", is_flag=True, help="Go on although the origin looks as if it stood on top of the stock.")
@plainly
def post(toolpath: Path, controller: str, output: Path, sets: tuple[str, ...], tolerance: float | None,
         as_json: bool, origin_is_meant: bool) -> None:  # fmt: skip
    """Write the program of a TOOLPATH, prove it, and only then put it in place."""
    from steadyrest.posting import post as run

    posted = run(
        toolpath,
        controller,
        output,
        sets=sets,
        tolerance=tolerance,
        accept_origin=origin_is_meant,
        show=_shown_lines if sys.stderr.isatty() else None,
    )
    if sys.stderr.isatty():
        click.echo("\r\033[K", nl=False, err=True)
    click.echo(posted.text(), err=True)
    if as_json:
        click.echo(json.dumps(posted.as_json(), indent=2))


@main.command()
@click.argument("program", type=click.Path(path_type=Path))
@click.option("--toolpath", "-t", type=click.Path(path_type=Path), required=True, help="What the program should cut.")
@_settings
@plainly
def prove(program: Path, toolpath: Path, controller: str, sets: tuple[str, ...], tolerance: float | None, as_json: bool) -> None:
    """Prove a PROGRAM that already exists, edited by hand or old, against a toolpath."""
    from steadyrest.posting import prove as run

    proved = run(program, toolpath, controller, sets=sets, tolerance=tolerance)
    click.echo(proved.text(), err=True)
    if as_json:
        click.echo(json.dumps(proved.as_json(), indent=2))
    if not proved.verdict.proved:
        sys.exit(3)


@main.group()
def controller() -> None:
    """Controller profiles: which there are, and what each one says."""


@controller.command("list")
@plainly
def list_() -> None:
    """List the profiles that are found, and where."""
    from steadyrest.profile import find_profiles, list_text

    click.echo(list_text(find_profiles()))


@controller.command("show")
@click.argument("name")
@click.option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="Override one setting. Repeatable.")
@plainly
def show(name: str, sets: tuple[str, ...]) -> None:
    """Print a profile with all that it inherits, and the file that each value came from."""
    from steadyrest.profile import resolve, show_text

    click.echo(show_text(resolve(name, sets)))


@main.command()
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
