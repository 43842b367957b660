"""What all commands share: errors become their message and exit code, and the options that say for which controller.

What only a command needs is imported when it runs, also from the standard library: --help waits for all of this module.
"""

from __future__ import annotations

import os
import sys
import time
import warnings
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import wraps
from io import TextIOWrapper
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TextIO, TypeVar

import click
from click import option

if TYPE_CHECKING:
    from steadyrest.profile_tools import Change
    from steadyrest.progress import Progress
    from steadyrest.request import Request
    from steadyrest.summary import Posted

P = ParamSpec("P")
R = TypeVar("R")


def plainly(command: Callable[P, R]) -> Callable[P, R]:
    """Turn every error on purpose into its message on stderr and its exit code; no traceback for bad input.

    A command that was asked for JSON prints the error as JSON on stdout as well.
    """

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        import shutil
        import signal

        from steadyrest.errors import SteadyrestError
        from steadyrest.folding import fold_at

        warnings.simplefilter("ignore")  # what a library has to say to its programmers is nothing for whoever stands at the machine

        # A console that has not all of the characters shows the others by their number.
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, TextIOWrapper):
                stream.reconfigure(errors="backslashreplace")
        fold_at(
            shutil.get_terminal_size().columns if all(each is not None and each.isatty() for each in (sys.stdout, sys.stderr)) else None
        )
        # A terminated process takes its half-written file away, as an interrupted one does.
        signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))
        try:
            return command(*args, **kwargs)
        except SteadyrestError as error:
            if screen := getattr(error, "screen", ""):
                say(screen)
            say(f"steadyrest: {error.alone() if screen else error}")
            if kwargs.get("as_json"):
                print_json(error.as_json())
            sys.exit(error.exit_code)
        except KeyboardInterrupt:
            place = sys.modules.get("steadyrest.writing.atomic_file")
            done = " and ".join(map(str, place.PUT)) if place is not None else ""
            say(f"steadyrest: stopped by hand; {f'{done} had been put in place before' if done else 'nothing was put in place'}")
            sys.exit(130)
        except Exception as error:  # the last net: no traceback for whoever stands at the machine
            if isinstance(error, click.ClickException | click.exceptions.Exit | click.Abort) or os.environ.get("STEADYREST_TRACEBACK"):
                raise
            if isinstance(error, MemoryError):
                wrong = "there is not enough memory for this\n  cure: close other programs, or cut the toolpath into parts"
            else:
                import traceback

                last = traceback.extract_tb(error.__traceback__)[-1]
                where = f"{os.path.basename(last.filename)}:{last.lineno}"
                wrong = f"a mistake in steadyrest itself: {type(error).__name__} at {where}: {str(error)[:300]}\n"
                wrong += "  cure: keep the files of this run and report them; STEADYREST_TRACEBACK=1 shows more"
            say(f"steadyrest: {wrong}")
            sys.exit(1)

    return run


class Group(click.Group):
    """A group each command of which fails plainly."""

    def add_command(self, cmd: click.Command, name: str | None = None) -> None:
        """A command, or a group of its own."""
        if cmd.callback is not None and not isinstance(cmd, click.Group):
            cmd.callback = plainly(cmd.callback)
        super().add_command(cmd, name)


FILE = click.Path(path_type=Path)
SCHEMA = 1
"""Version of what commands print as JSON: within it keys are only ever added, and never change their meaning."""


def print_json(data: Mapping[str, Any], *, alone: bool = False) -> None:
    """Print a result as JSON on stdout, with the version of its form unless it has one of its own; `alone` as of `print_text`.

    A number that JSON cannot say, because it is not finite, is null (RFC 8259, 6).
    """
    import json

    if "schema" not in data:
        data = {"schema": SCHEMA, **data}
    print_text(json.dumps(_finite(data), indent=2, allow_nan=False), alone=alone)


def print_text(text: str, *, alone: bool = False) -> None:
    """Print what was asked for on stdout. One that is closed or full takes nothing back of what is done: that is told.

    alone    it is all that the command does: exit code 1 where it could not be printed
    """
    failed = _written(text, sys.stdout)
    if failed is not None and not isinstance(failed, BrokenPipeError):
        say(f"steadyrest: the result could not be printed: {getattr(failed, 'strerror', None) or failed}")
        if alone:
            sys.exit(1)


def say(text: str) -> None:
    """Tell on stderr, if anybody reads it; the word of an outcome, where it is the first, in colour on a terminal."""
    word, _, rest = text.partition(" ")
    colour = None if os.environ.get("NO_COLOR") else {"RUN": "green", "LOOK": "yellow", "STOP": "red"}.get(word)
    _written(click.style(word, fg=colour, bold=True) + " " + rest if colour else text, sys.stderr)


def _written(text: str, stream: TextIO | None) -> Exception | None:
    """Write on a stream that may have been closed from the beginning; why that failed."""
    if stream is None:
        return None
    try:
        click.echo(text, stream)
        stream.flush()
    except (OSError, ValueError) as error:
        with suppress(OSError, ValueError):  # so that what it still holds does not fail once more when the process ends
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, stream.fileno())
            os.close(nowhere)
        return error
    return None


@contextmanager
def telling() -> Iterator[Progress | None]:
    """How far long work is, on one line of a terminal that is taken away again at its end.

    None where there is no terminal or one that cannot go back on its line, and where nobody wants to see it.
    """
    context = click.get_current_context(silent=True)
    quiet = context is not None and context.meta.get(NOT_TOLD, False)
    if quiet or sys.stderr is None or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield None
        return
    from steadyrest.cli.pace import ShownWork

    def write(text: str) -> None:
        with suppress(OSError, ValueError):  # a terminal that is gone ends no work
            sys.stderr.write(text)
            sys.stderr.flush()

    def columns() -> int:
        try:
            return os.get_terminal_size(sys.stderr.fileno()).columns or 80
        except (OSError, ValueError):
            return 80

    shown = ShownWork(write, time.monotonic, columns)
    try:
        yield shown
    finally:
        shown.clear()


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, Mapping):
        return {key: _finite(inner) for key, inner in value.items()}
    return [_finite(each) for each in value] if isinstance(value, list | tuple) else value


def finite(context: click.Context, parameter: click.Parameter, value: float | None) -> float | None:
    """A number that is one: nan and inf, which a plain float takes, would make any comparison meaningless."""
    if value is not None and not isfinite(value):
        raise click.BadParameter(f"'{value}' is not a finite number")
    return value


def known_findings(context: click.Context, parameter: click.Parameter, names: tuple[str, ...]) -> tuple[str, ...]:
    """Names of findings as they are; a usage error for one that there is not."""
    from steadyrest.findings import ACCEPTABLE

    for name in names:
        if name not in ACCEPTABLE:
            never = "; there is no way past a failed proof" if name == "proof" else ""
            raise click.BadParameter(f"there is no finding '{name}' to accept{never}; there are {', '.join(sorted(ACCEPTABLE))}")
    return names


def tool_lengths(context: click.Context, parameter: click.Parameter, said: tuple[str, ...]) -> dict[int, float]:
    """Gauge lengths said as NUMBER=LENGTH, by the number of the tool; a usage error for what is none, and for a tool named twice."""
    found: dict[int, float] = {}
    for text in said:
        number, _, length = text.partition("=")
        try:
            tool, value = int(number), float(length)
        except ValueError:
            raise click.BadParameter(f"'{text}' is not NUMBER=LENGTH, such as 4=128.35") from None
        if not (isfinite(value) and value > 0):
            raise click.BadParameter(f"'{text}': a gauge length is a number above 0, such as 128.35")
        if tool in found:
            raise click.BadParameter(f"the length of tool {tool} is given twice: keep one of the two")
        found[tool] = value
    return found


NOT_TOLD = "steadyrest.quiet"
QUIET = option("--quiet", is_flag=True, expose_value=False, callback=lambda context, _, value: context.meta.update({NOT_TOLD: value}),
                     help="Do not show how far long work is.")  # fmt: skip
JSON = option("--json", "as_json", is_flag=True, help="Print the result as JSON on stdout.")
OPTIONS = (
    option("--controller", "-c", metavar="NAME|FOLDER",
                 help="An installed profile, or the path of a profile's folder.  [default: the job file's, else rs274ngc]"),
    option("--set", "sets", multiple=True, metavar="KEY=VALUE",
                 help="Change one setting for this run, such as rotary.A.chuck_faces=-X. Repeatable."),
    option("--tolerance", type=float, callback=finite, metavar="LENGTH",
                 help="How far the tip may be off the toolpath, in the toolpath's units.  [default: 0.01 mm]"),
    option("--tool-length", "tool_lengths", multiple=True, callback=tool_lengths, metavar="NUMBER=LENGTH",
                 help="The gauge length of a tool, from its tip to the gauge line of its holder, in the toolpath's units, such as "
                 "4=128.35: needed where a head turns. Repeatable."),
    QUIET,
    JSON,
)  # fmt: skip
AS = option("--as", "child", metavar="NAME",
            help="A name for your own profile, if the controller is a bundled one: yours then extends it.")  # fmt: skip
YES = option("--yes", is_flag=True, help="Store without asking.")
ACCEPT = option("--accept", multiple=True, metavar="NAME", callback=known_findings,
                      help="Allow a finding that would stop the program, such as origin; it stays listed. For this command only. "
                      "Repeatable.")  # fmt: skip
NO_SIMULATION = option("--no-simulation", is_flag=True,
                             help="Skip the simulated cut, which finds collisions: the outcome is then never RUN.")  # fmt: skip
Asked = Callable[..., "Request"]
Option = Callable[[Callable[..., Any]], Callable[..., Any]]


def adding(*options: Option) -> Option:
    """Add options to a command, listed in their order."""

    def add(command: Callable[..., Any]) -> Callable[..., Any]:
        for each in reversed(options):
            command = each(command)
        return command

    return add


def requesting(*more: Option) -> Option:
    """Add the options that say how a part is posted, and `more` of them; the command gets them as `asked`, a Request without its part."""

    def add(command: Callable[..., None]) -> Callable[..., None]:
        @wraps(command)
        def run(*, controller: str | None, sets: tuple[str, ...], tolerance: float | None, tool_lengths: dict[int, float],
                accept: tuple[str, ...] = (), no_simulation: bool = False, **said: Any) -> None:  # fmt: skip
            from steadyrest.request import Request

            def asked(part: Path, output: Path | None = None) -> Request:
                simulate = not no_simulation
                return Request(part, controller, output, sets, tolerance, accept, simulate, gauge_lengths=tool_lengths).with_job()

            command(asked=asked, **said)

        return adding(*OPTIONS, *more)(run)

    return add


def put(content: bytes, output: Path, *parts: Path | None) -> None:
    """Put what was asked for in place of `output`, which must be none of the files that it was made from."""
    from steadyrest.request import files_of
    from steadyrest.writing import put_in_place

    put_in_place([content], output, [file for part in parts for file in files_of(part)]).commit()


def offer(change: Change, *, yes: bool) -> None:
    """Show a change of a profile and store it, once that is said: here, or by `yes` before."""
    from steadyrest.profile_tools import store

    say(change.text())
    if not change.needed:
        say("nothing to store: the profile has these values already")
        return
    if not yes:
        if not sys.stdin.isatty():
            raise click.UsageError("no terminal to ask at; check the change above, then add --yes to store it")
        if not click.confirm("Store this?", err=True):
            say("nothing was changed")
            return
    store(change)
    say(f"stored; use it as --controller {change.controller}")


def judged(posted: Posted, *, as_json: bool, also: str = "") -> None:
    """Say what is known of a program, and `also` what else was made; exit code 3 for one that must not run."""
    say(posted.text())
    if also:
        say(also)
    if as_json:
        print_json(posted.as_json())
    if posted.outcome.word == "stop":
        sys.exit(3)
