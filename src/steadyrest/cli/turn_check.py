"""The command `turn-check`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from steadyrest.cli.common import plainly, put, say

ANSWERS = ["towards-me", "away-from-me", "to-the-right", "to-the-left", "up", "down"]
FACES = ["+X", "-X", "+Y", "-Y", "+Z", "-Z"]


@click.command("turn-check")
@click.option("--controller", "-c", required=True, metavar="NAME|FOLDER", help="An installed profile, or the path of a profile's folder.")
@click.option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="Change one setting for this run. Repeatable.")
@click.option("--rotary", metavar="LETTER", help="Which rotary, where the profile has more than one.")
@click.option("--output", "-o", type=click.Path(path_type=Path), help="Write the turn check into this file.")
@click.option("--seen", type=click.Choice(ANSWERS), help="Which way it moved at the small turn. No program is written.")
@click.option("--chuck-faces", type=click.Choice(FACES), help="Where the face of the chuck points; asked for if not given.")
@click.option(
    "--as", "child", metavar="NAME", help="A name for your own profile, if the controller is a bundled one: yours then extends it."
)
@click.option("--yes", is_flag=True, help="Store without asking.")
@plainly
def turn_check(controller: str, sets: tuple[str, ...], rotary: str | None, output: Path | None, seen: str | None,
               chuck_faces: str | None, child: str | None, yes: bool) -> None:  # fmt: skip
    """Find out which way the rotary turns, without a toolpath and without a tool.

    First with --output: a tiny program. It retracts, stops, turns the rotary by a small angle, stops, and turns back. Then with
    --seen: what you saw becomes two settings of the profile, shown first and stored when you say yes. A bundled profile is never changed.
    """
    if (output is None) == (seen is None):
        raise click.UsageError("give --output FILE to write the program, or --seen with what you saw")
    if seen is not None:
        return _answer(controller, sets, rotary, seen, chuck_faces, child, yes)
    assert output is not None
    from steadyrest.profile import resolve
    from steadyrest.turn_check import turn_check as written

    check = written(resolve(controller, sets), rotary)
    put(check.program, output)
    say(check.text(output, controller))


def _answer(controller: str, sets: tuple[str, ...], rotary: str | None, seen: str, chuck_faces: str | None,
            child: str | None, yes: bool) -> None:  # fmt: skip
    from datetime import date

    from steadyrest.profile import resolve
    from steadyrest.turn_check import face_question, mounting, planned_change, store, the_rotary

    if sets:
        raise click.UsageError(
            "--set changes one run only, but what you saw is stored for good. Put those settings into your profile first"
        )
    profile = resolve(controller).profile
    letter, found = the_rotary(profile, rotary)
    stands = profile.spindle.stands
    if chuck_faces is None:
        faces, text = face_question(found.along, stands)
        if not sys.stdin.isatty():
            raise click.UsageError(f"give the direction in which the face of the chuck points: --chuck-faces {' or '.join(faces)}")
        chuck_faces = click.prompt(text, type=click.Choice(faces), err=True)
    assert chuck_faces is not None
    said = mounting(found.along, chuck_faces, seen, stands)
    change = planned_change(controller, letter, said, seen=f"turn check, {date.today()}: {seen}", child=child)
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
