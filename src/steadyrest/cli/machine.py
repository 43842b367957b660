"""What is asked at the machine: `turn-check`, which way the rotary turns; `centre`, where its axis is, from touches."""

from __future__ import annotations

import sys
from datetime import date
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click import argument, option

from steadyrest.cli.common import AS, FILE, JSON, YES, Group, Option, offer, print_json, print_text, put, say
from steadyrest.conventions import length

if TYPE_CHECKING:
    from steadyrest.centre import RotaryPlace
    from steadyrest.inputs import Job
    from steadyrest.toolpath import Toolpath

FORMER = {"sure-to": "touch-error", "reading-sure-to": "reading-error", "size-sure-to": "size-error"}
"""Options by their former names, which scripts of shops may hold: still accepted, and not listed."""
AXIS = click.Choice(["X", "Y", "Z"])
SIDE = click.Choice(["+X", "-X", "+Y", "-Y", "+Z", "-Z"])
UNITS = click.Choice(["mm", "inch"])
ANSWERS = ["towards-me", "away-from-me", "to-the-right", "to-the-left", "up", "down"]


def touches(*said: Any, says: str, metavar: str = "") -> Option:
    """An option that may be repeated: its names, then the types of its values."""
    names = [one for one in said if isinstance(one, str)]
    types = said[len(names) :]
    metavar = metavar or " ".join({AXIS: "AXIS", SIDE: "SIDE"}.get(each, "LENGTH") for each in types)
    return option(*names, type=types, multiple=True, metavar=metavar, help=says)


@click.group(cls=Group)
def centre() -> None:
    """Find the axis of rotation at the machine, and remember where a rotary is mounted on its plate.

    Spindle stopped before anybody touches off.

    \b
    Once: set the units you touch in and the machine you are at:
      steadyrest centre usual --units mm --controller NAME
    A bar in the chuck, touched on top and on both sides:
      steadyrest centre find --diameter 40.018 --top 8.25 --sides Y -37.482 12.536
    Does the bar run true? Indicator on top, turned by hand:
      ... --reading 0 0.046 --reading 90 0.02 --reading 180 -0.018 --reading 270 0.01 --controller NAME
    """


@centre.command("find", context_settings={"token_normalize_func": lambda name: FORMER.get(name, name)})
@option("--job", type=FILE, help="A job file: its touches, unless some are given here, its controller, and the work offset of its part.")
@option("--along", type=AXIS, help="The axis to which the axis of rotation is parallel.  [default: the job's, else X]")
@option("--top", type=length, multiple=True, help="Height of the top of the bar. Repeat it for each touch.")
@option("--diameter", type=length, help="Measured diameter of the bar.")
@touches("--sides", AXIS, length, length, says="Two sides of the bar, same tool.")
@option("--tool", type=length, help="Diameter of the tool that touched the sides: checks the bar's diameter too.")
@touches("--faces", length, length, says="Heights of two opposite faces, each touched on top, the rotary indexed by 180 between.")
@option("--thickness", type=length, help="Measured distance between the two faces.")
@touches("--flip", "flips", AXIS, length, length, says="Where one feature of the part was at 0 and at 180 degrees.")
@touches("--point", "points", length, length,
         says="The two coordinates across the axis of one feature, found at one rotary angle. Give three angles or more.")  # fmt: skip
@touches("--reading", "readings", length, length, metavar="DEGREES LENGTH", says="An indicator reading on the bar.")
@option("--indicator", type=SIDE, help="The side on which the indicator rests.  [default: +Z, the top; along Z: -Y]")
@option("--at", "at_deg", type=length, default=0.0, metavar="DEGREES",
              help="Angle of the rotary when the bar was touched.  [default: 0]")  # fmt: skip
@touches("--end", SIDE, length, says="Touch of the end of the bar; SIDE is where that end points, such as +X.")
@touches("--chuck-face", SIDE, length, says="Touch of the face of the chuck; SIDE is where it points.")
@touches("--flat", length, length, metavar="ACROSS HEIGHT",
         says="A touch of a flat of the part; give two. The result is the rotary angle that levels it, for a second clamping.")  # fmt: skip
@option("--touch-error", "uncertainty", type=length, help="Error of one touch (standard uncertainty).  [default: 0.01 mm]")
@option("--reading-error", "reading_uncertainty", type=length, help="Error of one indicator reading.  [default: 0.003 mm]")
@option("--size-error", "size_uncertainty", type=length, help="Error of the measured diameter or thickness.  [default: 0.003 mm]")
@option("--units", type=UNITS, help="Units of all lengths.  [default: as set by `centre usual`, else mm]")
@option("--controller", "-c", metavar="NAME|FOLDER",
              help="Its profile states which way the rotary turns and which work offset programs use.  [default: as set by `centre usual`]"
              )  # fmt: skip
@option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="Override one setting of the profile for this run. Repeatable.")
@option("--remember", metavar="NAME", help="Store the result under this name.")
@option("--yes", is_flag=True, help="Replace a stored place of that name without asking.")
@option("--touched-with", default="", metavar="TEXT", help="The tool or gauge that touched, in your words; stored with the place.")
@touches("--reference", AXIS, length,
         says="Position of the reference on the plate.  [default: none, the place is measured from the machine's zero]")  # fmt: skip
@option("--note", default="", help="What the reference is, in your words.")
@JSON
def find(job: Path | None, along: str | None, units: str | None, controller: str | None, sets: tuple[str, ...], remember: str | None,
         yes: bool, touched_with: str, reference: tuple[tuple[str, float], ...], note: str, as_json: bool,
         **touched: Any) -> None:  # fmt: skip
    """Find the centre of rotation from your touches; without options, at a terminal, it asks for them.

    Read all touches in the same coordinates, best in machine coordinates. Exit code 3: they do not agree, and nothing is stored.
    """
    from steadyrest.centre import (
        Touches,
        centre_data,
        centre_text,
        find_centre,
        place_of,
        stated_by,
        touches_kept,
        uncertainties,
        usual,
    )

    given_here = any(value for value in touched.values() if isinstance(value, tuple))
    at_job, mounted = None, None
    if job is not None:
        said, mounted, controller, sets = _job(job, along, controller, sets)
        at_job, along = (None if given_here else said.setup.touches), mounted.axis
    along, controller = along or "X", controller or usual().machine or None
    sense, work_offset = stated_by(controller, sets, along)
    if at_job is not None:
        units, given = at_job.units, touches_kept(at_job, along, sense)
    else:
        units = units or usual().units or "mm"
        if not given_here and sys.stdin.isatty():
            touched |= _asked(along)
        errors = ("uncertainty", "reading_uncertainty", "size_uncertainty")
        touched |= zip(errors, uncertainties(units, *map(touched.get, errors)), strict=True)
        given = Touches(along=along, sense=sense, **{name: value for name, value in touched.items() if value is not None})
    found = find_centre(given)
    say(centre_text(found, units, work_offset, mounted))
    if (given.flat or len(given.readings) > 2) and controller is not None and not _seen(controller, sets, along):
        say(f"  note: which way the rotary stands and turns is what {controller} assumes, not seen at this machine: run the turn check")
    if as_json:
        print_json(centre_data(found, units, mounted))
    if found.repeat:
        sys.exit(3)
    if remember is not None:
        touched_with = touched_with or (f"a tool of {given.tool:g} {units}" if given.tool is not None else "")
        words = {"note": note, "touched_with": touched_with, "date": date.today().isoformat(), "machine": controller or ""}
        kept = place_of(found, units, dict(reference), **words)
        _kept(remember, kept, yes)


def _job(job: Path, along: str | None, controller: str | None, sets: tuple[str, ...]) -> tuple[Job, Toolpath, str, tuple[str, ...]]:
    """A job file, its part as it stands on the machine, its controller and its settings, unless others are given."""
    from steadyrest.centre import mounted_part
    from steadyrest.inputs import load_job
    from steadyrest.request import Request

    said, request = load_job(job), Request(job, controller=controller, sets=sets).with_job()
    part = said.toolpath()
    if along not in (None, part.axis):
        raise click.UsageError(f"the axis of rotation of {job.name} is along {part.axis}, not {along}: leave --along out")
    return said, mounted_part(part, request.named_controller, request.sets), request.named_controller, tuple(request.sets)


def _seen(controller: str, sets: tuple[str, ...], along: str) -> bool:
    """Whether somebody who can have seen it says how the rotary along an axis is mounted."""
    from steadyrest.profile import resolve, rotary_along
    from steadyrest.profile_tools import said_by

    resolved = resolve(controller, sets)
    found = rotary_along(resolved.profile, along)
    return found is None or all(
        said_by(resolved, f"rotary.{found[0]}.{key}") != "assumed" for key in ("chuck_faces", "positive_turns_chuck")
    )


def _kept(name: str, kept: RotaryPlace, yes: bool) -> None:
    """Remember a place; one of that name is replaced when somebody says so."""
    from steadyrest.centre import place_text, places, remembered_text
    from steadyrest.centre import remember as keep

    if not kept.way:
        raise click.UsageError("no coordinate was found, so there is no place to remember")
    known = places().get(name)
    if known is not None and not yes and sys.stdin.isatty():
        say(place_text(name, known))
        yes = click.confirm(f"{name} is remembered already. Replace it?", err=True)
    keep(name, kept, replace=yes)
    say(remembered_text(name, kept))


def _asked(along: str) -> dict[str, Any]:
    """The usual touches, asked for one after the other; Enter skips."""

    def number(text: str) -> float | None:
        said = click.prompt(f"{text} (Enter: skip)", default="", show_default=False, err=True)
        return length(said) if str(said).strip() else None

    say("Spindle stopped, before anything is touched.")
    diameter = number("diameter of the bar, measured")
    height = number("height of the top of the bar") if along != "Z" else None
    asked = [(axis, number(f"one side in {axis}"), number(f"the other side in {axis}")) for axis in "XY" if axis != along]
    sides = tuple(one for one in asked if None not in one)
    tool = number("diameter of the tool that touched the sides") if sides else None
    read = [(float(angle), number(f"indicator reading at {angle} degrees")) for angle in (0, 90, 180, 270)]
    readings = tuple(one for one in read if None not in one)
    top = (height,) if height is not None else ()
    return {"diameter": diameter, "top": top, "sides": sides, "tool": tool, "readings": readings}


@centre.command("line")
@option(
    "--controller", "-c", metavar="NAME|FOLDER", help="The machine, whose profile states the chain.  [default: as set by `centre usual`]"
)
@option("--rotary", metavar="LETTER", required=True, help="The rotary that turned; all others stood at 0.")
@touches("--ball", "balls", length, length, length, length, metavar="DEGREES X Y Z",
         says="Where the ball's centre was found with the rotary at that angle. Give three angles or more, far apart.")  # fmt: skip
@touches("--pin", "pins", length, length, length, metavar="DEGREES X Y",
         says="The same of an upright pin, for a rotary along Z.")  # fmt: skip
@option("--reference", type=length, nargs=3, default=(0.0, 0.0, 0.0), metavar="X Y Z",
              help="In a table: where the reference point lies, `centre` of toolpaths.  [default: the zero of the touches]")  # fmt: skip
@option("--gauge-length", type=length, help="In a head: from the point of the probe that was read to the gauge line.")
@option("--touch-error", "uncertainty", type=length, help="Error of one coordinate of a centre (standard uncertainty).  [default: 0.01 mm]")
@option("--units", type=UNITS, help="Units of all lengths.  [default: as set by `centre usual`, else mm]")
@option("--store", is_flag=True, help="Store the line in the profile, once it was shown.")
@AS
@YES
@JSON
def line(controller: str | None, rotary: str, balls: tuple[tuple[float, ...], ...], pins: tuple[tuple[float, ...], ...],
         reference: tuple[float, float, float], gauge_length: float | None, uncertainty: float | None, units: str | None, store: bool,
         child: str | None, yes: bool, as_json: bool) -> None:  # fmt: skip
    """Find the line of one rotary of a machine with two, or of a head, from a ball that stands on the table.

    Spindle stopped. The ball's centre is found with the rotary at three angles or more, all others at 0: a table carries the ball round its
    line; a head goes round it to a ball that stands still. Exit code 3: the places do not agree, and nothing is stored.
    """
    from steadyrest.centre import BallTouches, find_line, line_data, line_setting, line_text, uncertainties, usual
    from steadyrest.profile import has_one_in_table, resolve
    from steadyrest.profile_tools import planned_change
    from steadyrest.turn_check import the_rotary

    controller, units = controller or usual().machine, units or usual().units or "mm"
    if not controller:
        raise click.UsageError("name the machine, whose profile states the chain: --controller NAME")
    profile = resolve(controller).profile
    letter, _ = the_rotary(profile, rotary)
    found_at = (*((w, x, y, z) for w, x, y, z in balls), *((w, x, y, nan) for w, x, y in pins))
    error = uncertainties(units, uncertainty, None, None)[0]
    found = find_line(profile, letter, BallTouches(found_at, error, reference, gauge_length))
    alone = has_one_in_table(profile)
    say(line_text(found, units))
    if as_json:
        print_json(line_data(found, units, stated=not alone))
    if found.repeat:
        sys.exit(3)
    if alone:
        say("  one rotary in the table: its axis goes through `centre` of toolpaths, so enter this into the work offset")
        return
    key, value = line_setting(found, units)
    if not as_json:
        print_text(f"{key} = {value}")
    if store:
        how = f"ball at {found.fit.count // 2} angles, {date.today()}, within {2 * max(found.uncertainty):.4f} {units}"
        offer(planned_change(controller, {key: value}, {key: how}, child=child), yes=yes)


@centre.command("place")
@argument("name")
@touches("--reference", AXIS, length, says="Position of the reference on the plate today.")
@option("--units", type=UNITS, help="Units of the reference.  [default: as set by `centre usual`]")
@option("--controller", "-c", metavar="NAME|FOLDER", help="The machine you are at.  [default: as set by `centre usual`]")
@option("--job", type=FILE, help="A job file: the work offset of its part, on its controller.")
@JSON
def place(name: str, reference: tuple[tuple[str, float], ...], units: str | None, controller: str | None, job: Path | None,
          as_json: bool) -> None:  # fmt: skip
    """Print the offsets of a remembered place for today's mounting. Give --reference if the place was found from one."""
    from steadyrest.centre import places, recalled, recalled_data, recalled_text, usual

    said, mounted = usual(), None
    if job is not None:
        _, mounted, controller, _ = _job(job, None, controller, ())
    found = recalled(name, dict(reference), units=units or said.units or None, machine=controller or said.machine or None)
    known = places()[name]
    if mounted is not None and mounted.axis != known.along:
        raise click.UsageError(f"{name} is along {known.along}, but the axis of rotation of {job} along {mounted.axis}")
    say(recalled_text(name, known, found, mounted))
    if as_json:
        print_json(recalled_data(name, known, found, mounted))


@centre.command("usual")
@option("--units", type=UNITS, help="The units in which you touch.")
@option("--controller", "-c", metavar="NAME|FOLDER", help="The machine you are at.")
def usual(units: str | None, controller: str | None) -> None:
    """Set once the units you touch in and the machine you are at; without options, print what is set."""
    from steadyrest.centre import say_once, usual_file
    from steadyrest.centre import usual as known
    from steadyrest.profile import resolve

    if controller is not None:
        resolve(controller, ())  # a machine that is not there is said now, not at the next touch
    said = say_once(units, controller) if units or controller else known()
    click.echo(f"units {said.units or 'not set (mm is used)'}, machine {said.machine or 'not set'}")
    say(f"kept in {usual_file()}")


@centre.command("places")
def list_places() -> None:
    """List the remembered places."""
    from steadyrest.centre import place_text, places, places_file

    known = places()
    for name in sorted(known):
        print_text(place_text(name, known[name]), alone=True)
    say(f"{len(known)} in {places_file()}")


@centre.command("forget")
@argument("name")
def forget(name: str) -> None:
    """Forget a remembered place."""
    from steadyrest.centre import forget as run

    run(name)
    say(f"{name} is forgotten")


@click.command("turn-check")
@option("--controller", "-c", required=True, metavar="NAME|FOLDER", help="An installed profile, or the path of a profile's folder.")
@option("--set", "sets", multiple=True, metavar="KEY=VALUE", help="Change one setting for this run. Repeatable.")
@option("--rotary", metavar="LETTER", help="Which rotary, where the profile has more than one.")
@option("--output", "-o", type=FILE, help="Write the turn check into this file.")
@option("--seen", type=click.Choice(ANSWERS), help="Which way it moved at the small turn. No program is written.")
@option("--chuck-faces", type=SIDE,
              help="Where the face of the chuck points; asked for if not given, unless there are two rotaries or a head.")  # fmt: skip
@option("--went-along", type=click.Choice(["yes", "no"]),
              help="Of two rotaries: whether the one that it carries went along at the small turn.")  # fmt: skip
@AS
@YES
def turn_check(controller: str, sets: tuple[str, ...], rotary: str | None, output: Path | None, seen: str | None,
               chuck_faces: str | None, went_along: str | None, child: str | None, yes: bool) -> None:  # fmt: skip
    """Find out which way the rotary turns, without a toolpath and without a tool.

    First with --output: a tiny program. It retracts, stops, turns the rotary by a small angle, stops, and turns back. Then with
    --seen: what you saw becomes two settings of the profile, shown first and stored when you say yes. A bundled profile is never changed.
    """
    if (output is None) == (seen is None):
        raise click.UsageError("give --output FILE to write the program, or --seen with what you saw")
    from steadyrest.profile import has_one_in_table, resolve
    from steadyrest.turn_check import face_question, mounting, planned_change, the_rotary
    from steadyrest.turn_check import turn_check as written

    if output is not None:
        check = written(resolve(controller, sets), rotary)
        put(check.program, output)
        say(check.text(output, controller))
        return
    if sets:
        raise click.UsageError(
            "--set changes one run only, but what you saw is stored for good. Put those settings into your profile first"
        )
    profile = resolve(controller).profile
    letter, found = the_rotary(profile, rotary)
    assert seen is not None
    alone = has_one_in_table(profile)
    if alone and went_along is not None:
        raise click.UsageError("--went-along is for a machine with two rotaries, whose profile states the chain")
    if alone and chuck_faces is None:
        faces, text = face_question(found.along, profile.spindle.stands)
        if not sys.stdin.isatty():
            raise click.UsageError(f"give the direction in which the face of the chuck points: --chuck-faces {' or '.join(faces)}")
        chuck_faces = click.prompt(text, type=click.Choice(faces), err=True)
    said, along = mounting(profile, letter, seen, chuck_faces), {"yes": True, "no": False}.get(went_along or "")
    offer(planned_change(controller, letter, said, seen=f"turn check, {date.today()}: {seen}", child=child, went_along=along), yes=yes)
