"""The run record of a part: what was run when, how the machine was set up for it, what was checked, and what somebody noted.

It stands beside the job as NAME.runs.jsonl, a line of JSON (RFC 8259) for each run, the oldest first. A line is added in one step and never
changed after its run; the run that is being set up is the last line, and says so.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from steadyrest.errors import InputError, Place
from steadyrest.writing import put_in_place

ENDING = ".runs.jsonl"
SCHEMA = 1


@dataclass(frozen=True, slots=True)
class Run:
    """One run, or the one that is being set up.

    when        ISO 8601, with the offset from UTC: when it was set up
    outcome     `run`, `look` or `stop`, as of the program that was looked at
    program, toolpath, profile   digests: SHA-256 of the program's bytes, and those of the verdict
    mounting    how the rotary stands, as the setup sheet says it
    settings    the profile's name, and settings of this part alone, KEY=VALUE
    gauge_lengths   for which the program was made, by number of the tool, in the toolpath's units
    origin      work offset and where the zero is, as set at the control
    tools       by number: what the control was told of it, such as its length
    checked     what has to be checked and was ticked
    remarks     in the words of whoever ran it
    run         whether it has been run; until then its line may change
    """

    when: str
    outcome: str
    program: str
    toolpath: str
    profile: str
    mounting: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    origin: str = ""
    tools: Mapping[str, str] = field(default_factory=dict)
    checked: tuple[str, ...] = ()
    remarks: str = ""
    run: bool = False
    gauge_lengths: Mapping[str, float] = field(default_factory=dict)


_RUN = TypeAdapter(Run)


def record_file(job: Path) -> Path:
    """Where the runs of a job are kept: NAME.runs.jsonl beside NAME.job.toml."""
    return job.with_name(job.name.removesuffix(".job.toml") + ENDING)


def runs_of(job: Path) -> list[Run]:
    """The runs of a job, the oldest first. InputError, with the line, for what is no record of a run."""
    file, found = record_file(job), []
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except FileNotFoundError:
        return []
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"the run record cannot be read: {error}", place=Place(file=file.name), cure="mend it, or move it away") from None
    for number, line in enumerate(lines, start=1):
        try:
            found.append(_RUN.validate_json(line))
        except ValidationError:
            place = Place(file=file.name, line=number)
            raise InputError("this line is no record of a run", place=place, cure="take the line out, or move the file away") from None
    return found


def record_run(job: Path, run: Run) -> None:
    """Keep a run: in place of the last one if that was only being set up, else after it. OutputError where the folder does not take it."""
    kept = runs_of(job)
    if kept and not kept[-1].run:
        kept.pop()
    lines = (json.dumps({"schema": SCHEMA, **asdict(each)}, ensure_ascii=False) + "\n" for each in (*kept, run))
    put_in_place(["".join(lines).encode("utf-8")], record_file(job)).commit()


def next_run(former: Sequence[Run], today: Run) -> Run:
    """Today's run before anything was said of it: origin, tools and remarks as of the last, nothing checked.

    today   what is known without asking: outcome, digests, mounting, settings, gauge lengths
    """
    if not former:
        return today
    last = former[-1]
    if not last.run and last.program == today.program:
        return replace(last, outcome=today.outcome, mounting=today.mounting, settings=today.settings, gauge_lengths=today.gauge_lengths)
    return replace(today, origin=last.origin, tools=last.tools, remarks=last.remarks if not last.run else "")


def differences(last: Run, today: Run) -> list[str]:
    """What is different from the last run, in plain words; nothing where all is the same."""
    told = []
    if last.toolpath != today.toolpath:
        told.append("the toolpath is another one: CAM has written it anew, or the job says something else")
    if last.profile != today.profile or last.settings != today.settings:
        told.append("the controller's profile or its settings for this part are different")
    if last.mounting != today.mounting:
        then, now = ("; ".join(each.mounting) or "not stated" for each in (last, today))
        told.append(f"the rotary stands differently: then {then}; now {now}")
    for number in dict.fromkeys((*last.gauge_lengths, *today.gauge_lengths)):
        then, now = (f"{each:g}" if (each := run.gauge_lengths.get(number)) is not None else "not given" for run in (last, today))
        if then != now:
            told.append(f"the gauge length of T{number} is another one: then {then}; now {now}")
    if last.program != today.program and not told:
        told.append("the program is another one")
    return told
