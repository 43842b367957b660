"""What a job file keeps of its setting up: the touches as they are worked out, and the part as it stands on the machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from math import nan

from steadyrest.centre.ball import BallTouches
from steadyrest.centre.touches import Touches
from steadyrest.centre.user_files import uncertainties
from steadyrest.inputs import BallTouched, Touched
from steadyrest.profile import has_one_in_table, resolve, rotary_along
from steadyrest.proof import as_mounted
from steadyrest.toolpath import Toolpath


def touches_kept(kept: Touched, along: str, sense: int | None) -> Touches:
    """Touches as a job file keeps them, as `find_centre` takes them; `along` and `sense` as in `Touches`."""
    said = {each.name: getattr(kept, each.name) for each in fields(Touches) if each.name in Touched.model_fields}
    errors = uncertainties(kept.units, kept.touch_error, kept.reading_error, kept.size_error)
    named = dict(zip(("uncertainty", "reading_uncertainty", "size_uncertainty"), errors, strict=True))
    return Touches(**{**said, **named, "along": along, "at_deg": kept.at, "indicator": kept.indicator or "", "sense": sense})


def balls_kept(kept: BallTouched) -> BallTouches:
    """Places of a ball as a job file keeps them, as `find_line` takes them."""
    balls = tuple((*found, nan) if len(found) == 3 else found for found in kept.balls)
    return BallTouches(balls, uncertainties(kept.units, kept.touch_error, None, None)[0], kept.reference, kept.gauge_length)


def mounted_part(toolpath: Toolpath, controller: str, sets: Sequence[str]) -> Toolpath:
    """The toolpath with stock and centre as they stand on the machine: what a work offset has to allow for. ProfileError."""
    profile = resolve(controller, sets).profile
    found = rotary_along(profile, toolpath.axis) if has_one_in_table(profile) else None  # two turn nothing end for end
    return as_mounted(toolpath, found[1] if found is not None else None)
