"""Every command with its arguments and options, as `--help` says it."""

from __future__ import annotations

from collections.abc import Iterator

import click

from making import terminals
from making.markdown import block, code, page, target
from steadyrest.cli import CONTEXT, main


def pages() -> dict[str, str]:
    """One page."""
    parts = [
        "Screens go to stderr; on stdout is only what was asked for. Exit codes are listed under [errors](errors.md). "
        "`--json` prints the result as data, described key by key: [the verdict](verdict.md) for `post` and `prove`, and "
        "[what the others print](json.md). Long work says on a terminal [how far it is](../verdict.md#while-it-works).",
    ]
    parts.append(terminals.picture("post"))
    for path, command in every(main, ("steadyrest",)):
        if isinstance(command, click.Group) and len(path) == 1:
            continue
        name = " ".join(path)
        parts += [target("command-" + "-".join(path[1:])), f"## {code(name)}", block(_help(path, command))]
    return {"commands.md": page("Commands", *parts)}


def every(command: click.Command, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """A command and those below it, with the words that call them."""
    yield path, command
    if isinstance(command, click.Group):
        for name, inner in sorted(command.commands.items()):
            yield from every(inner, (*path, name))


def _help(path: tuple[str, ...], command: click.Command) -> str:
    context: click.Context | None = None
    for name in path[:-1]:
        context = click.Context(main, info_name=name, parent=context, **CONTEXT)  # type: ignore[arg-type]
    own = click.Context(command, info_name=path[-1], parent=context, terminal_width=110, max_content_width=110)
    return command.get_help(own)
