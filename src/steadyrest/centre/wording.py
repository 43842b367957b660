"""What was found, for somebody at the machine: the offsets to enter, how sure they are, what to repeat."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from steadyrest.centre.estimates import Estimate, eccentricity
from steadyrest.centre.offsets import WorkOffset, work_offsets
from steadyrest.centre.touches import COVERAGE, Centre
from steadyrest.centre.user_files import RotaryPlace, place_words
from steadyrest.toolpath import Toolpath


def centre_text(found: Centre, units: str, work_offset: str = "", mounted: Toolpath | None = None) -> str:
    """One screen.

    mounted   the job's toolpath, with its centre as it stands on the machine: the work offset then allows for it. None: no job is known,
              and what was found is the work offset of one whose origin is on the axis of rotation
    """
    if found.repeat:
        lines = ["THE TOUCHES DO NOT AGREE: do not use these numbers yet", *(f"  repeat: {each}" for each in found.repeat)]
    else:
        lines = [f"centre of rotation, axis along {found.along}"]
    for each in found.coordinates:
        lines.append(f"  {each.axis} {each.value:.4f} {units}   within {COVERAGE * each.uncertainty:.4f} (about 95 percent)")
        lines += [f"      {one.value:.4f} within {COVERAGE * one.uncertainty:.4f}: {one.how}" for one in each.parts]
    if (out := found.runout) is not None:
        said = f"{out.values[1]:+.4f} {units} at 0 degrees turns with the bar, {out.values[0]:+.4f} does not"
        off, highest = eccentricity(out)
        if off is not None:
            spare = f"residual {out.residual_rms:.4f}" if out.count > 3 else "three readings always fit: add a fourth to check them"
            said = f"the bar is {off:.4f} {units} off the axis, highest at {highest:.1f} degrees, {spare}"
        lines.append(f"  runout: {said}")
    if (round_ := found.circle) is not None:
        spare = "three points always fit a circle: add a fourth to check them"
        spare = f"residual {round_.residual_rms:.4f}" if round_.count > 3 else spare
        lines.append(f"  circle of radius {round_.values[2]:.4f} {units}, {spare}")
    if found.flat is not None:
        lines.append(
            f"  flat: tilted by {found.flat.tilt_deg:+.4f} degrees about +{found.along}; it is level with the rotary at "
            f"{found.flat.level_at_deg:.4f}, within {COVERAGE * found.flat.uncertainty_deg:.4f} (about 95 percent)"
        )
        lines.append("  turn the rotary there, and set its offset so that it reads the angle at which the program indexes this flat")
    lines += [f"  note: {each}" for each in found.notes]
    if found.coordinates and not found.repeat:
        into = f"the work offset ({work_offset})" if work_offset else "the work offset"
        entered: Iterable[Estimate | WorkOffset] = found.coordinates
        if mounted is not None:
            coordinates = {each.axis: (each.value, each.uncertainty) for each in found.coordinates}
            entered = work_offsets(coordinates, units, mounted, found.bar_end)
            lines += _about_offsets(entered, found.end if found.along in coordinates else "", found.along)
        lines += [
            f"enter into {into}: {', '.join(f'{each.axis} {each.value:.4f}' for each in entered)}",
            "  these are for touches read in machine coordinates; for touches in work coordinates, add them to the active offset",
        ]
        if any(each.axis == "Z" for each in found.coordinates):
            lines.append("  Z is for the tool or gauge that touched: other tools need their length offsets relative to it")
    return "\n".join(lines)


def centre_data(found: Centre, units: str, mounted: Toolpath | None = None) -> dict[str, Any]:
    """The same as data; uncertainties are standard ones. `work_offset` is None without `mounted`, and where the touches do not agree."""
    entered: Iterable[WorkOffset] | None = None
    if mounted is not None and not found.repeat:
        entered = work_offsets({each.axis: (each.value, each.uncertainty) for each in found.coordinates}, units, mounted, found.bar_end)
    out, round_ = found.runout, found.circle
    off, highest = eccentricity(out) if out is not None else (None, None)
    return {
        "along": found.along,
        "units": units,
        "agrees": not found.repeat,
        "centre": {
            each.axis: {
                "value": each.value,
                "uncertainty": each.uncertainty,
                "from": [{"value": one.value, "uncertainty": one.uncertainty, "how": one.how} for one in each.parts],
            }
            for each in found.coordinates
        },
        "work_offset": _offsets_data(entered),
        "runout": out and {"eccentricity": off, "highest_at_deg": highest, "mean": out.values[0], "residual": out.residual_rms},
        "circle": round_ and {"radius": round_.values[2], "residual": round_.residual_rms},
        "flat": found.flat and asdict(found.flat),
        "end": found.end or None,
        "repeat": list(found.repeat),
        "notes": list(found.notes),
    }


def _offsets_data(entered: Iterable[WorkOffset] | None) -> dict[str, Any] | None:
    if entered is None:
        return None
    return {each.axis: {"value": each.value, "uncertainty": each.uncertainty, "how": each.how or None} for each in entered}


def place_of(found: Centre, units: str, reference: Mapping[str, float], **words: str) -> RotaryPlace:
    """The way from a reference on the plate, or the machine's zero where there is none, to what was found; `words` as in `RotaryPlace`."""
    way = {each.axis: round(each.value - reference.get(each.axis, 0.0), 6) for each in found.coordinates}
    uncertainty = {each.axis: round(each.uncertainty, 6) for each in found.coordinates}
    return RotaryPlace(found.along, units, way, uncertainty, reference=dict(reference), end=found.end, **words)


def place_text(name: str, place: RotaryPlace) -> str:
    """One line of a list."""
    return f"{name}  {place_words(place)}"


def remembered_text(name: str, place: RotaryPlace) -> str:
    """That a place is remembered, how it is asked for, and what it does not say."""
    asked = "".join(f" --reference {axis} LENGTH" for axis in place.reference or ())
    lines = [f"remembered as {name}: steadyrest centre place {name}{asked}"]
    if "Z" in place.way and not place.touched_with:
        wrong = "nobody has said which tool touched, and Z is right for that tool only"
        lines.insert(0, f"{wrong}: add --touched-with TEXT to keep it with the place")
    return "\n".join(lines)


def _about_offsets(entered: Iterable[WorkOffset], end: str, along: str) -> list[str]:
    """Where each offset is not simply what was found, and that along the axis there is none; `end`: what was found there, in words."""
    lines = [f"  {each.axis}: {each.how}" for each in entered if each.how]
    if end and all(each.axis != along for each in entered):
        lines.append(f"  {along} is that of the {end}, which is no place of the part: touch the end of the stock for {along}")
    return lines


def recalled_text(name: str, place: RotaryPlace, found: Mapping[str, tuple[float, float]], mounted: Toolpath | None = None) -> str:
    """The offsets to enter for today's mounting: by axis the coordinate and its standard uncertainty; `mounted` as in `centre_text`."""
    lines = [place_text(name, place)]
    entered = [WorkOffset(axis, *both) for axis, both in found.items()]
    if mounted is not None:
        entered = list(work_offsets(found, place.units, mounted))
        lines += _about_offsets(entered, place.end, place.along)
    lines.append("enter into the work offset:")
    lines += [
        f"  {each.axis} {each.value:.4f} {place.units}   within {COVERAGE * each.uncertainty:.4f} when it was found" for each in entered
    ]
    if "Z" in found:
        touched_with = place.touched_with or "the tool or gauge that touched"
        lines.append(f"  Z is for {touched_with}: other tools need their length offsets relative to it")
    return "\n".join([*lines, "  check it with one touch, spindle stopped, before the first cut"])


def recalled_data(
    name: str, place: RotaryPlace, found: Mapping[str, tuple[float, float]], mounted: Toolpath | None = None
) -> dict[str, Any]:
    """The same as data; `work_offset` is None without `mounted`."""
    entered = work_offsets(found, place.units, mounted) if mounted is not None else None
    centre = {axis: {"value": value, "uncertainty": u} for axis, (value, u) in found.items()}
    return {"name": name, "along": place.along, "units": place.units, "centre": centre, "work_offset": _offsets_data(entered)}
