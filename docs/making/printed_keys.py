"""What each key of each command's JSON is: the kinds of its values, and its meaning with its unit.

Kinds are those of JSON, separated by `|`; "whole number" is one without a decimal point, "absent" says that the key is not always
there, "any" that the value is a setting's own. Keys of entries of a list stand under the list's name; AXIS is `X`, `Y` or `Z`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from steadyrest.cli.common import SCHEMA as PRINTED_SCHEMA
from steadyrest.explaining import SCHEMA

SETTING = "in the unit and of the kind that [the reference of settings](settings/index.md) says"
OUTCOMES = (
    "`proved`; `not proved`, written and refused by the proof; `refused`, in words before anything was written; `broken`, steadyrest "
    "itself failed"
)


_SCHEMA = ("whole number", f"version of this form: {PRINTED_SCHEMA}")


@dataclass(frozen=True, slots=True)
class Printed:
    """The JSON of one command, or of several that print the same.

    says      what it is, and with which exit code it comes; Markdown
    keys      kinds and meaning by dotted key
    verdicts  keys below which, or "" for the whole beside which, all keys of the verdict stand
    shown     how many entries of a list the example on the page shows
    also      other commands that print the same
    """

    says: str
    keys: Mapping[str, tuple[str, str]]
    verdicts: tuple[str, ...] = ()
    shown: int = 2
    also: tuple[str, ...] = ()


PRINTED: Mapping[str, Printed] = {
    "explain": Printed(
        "Where each word of some lines comes from. `schema` is the version of this form. A line that comes from no operation has the "
        "number 0 and empty texts here, not null. Exit code 0, also where the file differs from what would be written now.",
        {
            "schema": ("whole number", f"version of this form: {SCHEMA}"),
            "program": ("text", "the program's file, as it was given"),
            "toolpath": ("text", "the toolpath's file, as it was given"),
            "controller": ("text", "name of the profile"),
            "changed": ("whole number", "how many lines of the whole file differ from what would be written now"),
            "first_changed": ("whole number | null", "the first of them, from 1; null where there is none"),
            "missing": ("whole number", "how many lines that would be written now the file does not have"),
            "lines": ("list of objects", "one entry for each line that was asked for, in their order"),
            "lines.number": ("whole number", "number of the line in the file, from 1"),
            "lines.text": ("text", "the line as it is in the file"),
            "lines.now": ("text | null", "what would be written now in its place; null where nothing would: all below is then empty"),
            "lines.same": ("true or false", "true: `text` and `now` are the same"),
            "lines.missing": ("whole number", "how many lines that would be written now are missing just before this one"),
            "lines.operation": ("whole number", "number of the toolpath's operation, from 1; 0 for none"),
            "lines.operation_name": ("text", "its name; empty for none"),
            "lines.intent": ("text", "`indexed`, `wrapped`, `simultaneous` or `still`; empty for none"),
            "lines.move": ("whole number", "number of the move in it, from 1; 0 for none"),
            "lines.asked": ("text", "what the toolpath asks for there, in the toolpath's units; empty for what comes from no move"),
            "lines.rule": ("text", "the rule of motion, or the event, that made the line, as one name"),
            "lines.why": ("text", "the same in a sentence"),
            "lines.why_settings": ("list of objects", "the settings that the rule follows"),
            "lines.why_settings.key": ("text", "the setting's dotted key"),
            "lines.why_settings.value": ("any", f"its value, {SETTING}"),
            "lines.why_settings.origin": ("text", "the file that states it, `--set`, or `built-in default`"),
            "lines.why_settings.line": ("whole number | null", "its line in that file, from 1; null where no file states it"),
            "lines.template": ("object | null", "the template of the event; null where no template writes the line, as in motion"),
            "lines.template.file": ("text", "its file"),
            "lines.template.line": ("null", "always null: each of `words` has a line of its own"),
            "lines.words": ("list of objects", "the words, comments and marks of `now`, from left to right"),
            "lines.words.word": ("text", "as it is written"),
            "lines.words.says": ("text", "what it means, in a sentence; lengths in it have their unit"),
            "lines.words.settings": ("list of objects", "the settings that made it so, the nearest first; keys as in `why_settings`"),
            "lines.words.settings.key": ("text", "the setting's dotted key"),
            "lines.words.settings.value": ("any", f"its value, {SETTING}"),
            "lines.words.settings.origin": ("text", "the file that states it, `--set`, or `built-in default`"),
            "lines.words.settings.line": ("whole number | null", "its line in that file, from 1; null where no file states it"),
            "lines.words.template": ("object | null", "where a template printed it; null where none did, as in motion"),
            "lines.words.template.file": ("text", "the template's file"),
            "lines.words.template.line": ("whole number", "its line, from 1"),
            "lines.notices": ("list of texts", "what was changed on the way in this operation, in sentences"),
        },
        shown=1,
    ),
    "controller check": Printed(
        "What the checks of a profile found. Exit code 0, 1 or 3, the same as in `exit_code`; a profile with settings that are "
        "wrong is a result too; only a name that leads to no profile is an error.",
        {
            "schema": _SCHEMA,
            "profile": ("text", "name of the profile's folder"),
            "exit_code": (
                "whole number",
                "0: good; 1: the profile is wrong, or with `--strict` has remarks; 3: a program does not cut what its toolpath says",
            ),
            "results": ("list of objects", "one entry a finding, in the order of the checks"),
            "results.check": ("text", "the check: `settings`, `templates`, `sources`, `effect`, `tour` or `extreme` (extreme settings)"),
            "results.what": ("text", "the setting, file, toolpath or trial that it is about"),
            "results.level": (
                "text",
                "`good`; `remark`, worth a look; `wrong`, the profile is wrong; `refused`, a program does not cut what it should",
            ),
            "results.words": ("text", "what was found, and the cure; lengths in it have their unit"),
        },
    ),
    "controller compare": Printed(
        "In what two profiles differ, and with a toolpath or `--tour` what each difference does to its program. `first` and `second` are "
        "the two profiles in everything below. Lines and parts that are equal are left out. Exit code 0, whether they differ or not.",
        {
            "schema": _SCHEMA,
            "first": ("text", "the first profile, as it was named, with the revision where one was"),
            "second": ("text", "the second one"),
            "settings": ("list of objects", "the settings that differ"),
            "settings.key": ("text", "dotted key; a rotary that only one of them has is one entry, `rotary.A`"),
            "settings.first": ("any", f"its value in the first, {SETTING}; null where that has no such setting"),
            "settings.second": ("any", "its value in the second, likewise"),
            "settings.first_origin": ("text | null", "the file that states it, or `built-in default`; null where there is none"),
            "settings.second_origin": ("text | null", "the same of the second"),
            "templates": ("list of objects", "the templates that differ"),
            "templates.name": ("text", "name of the template's file"),
            "templates.first": ("text | null", "the first's file; null where it has none"),
            "templates.second": ("text | null", "the second's file; null where it has none"),
            "programs": ("list of objects", "one entry for each toolpath; empty without a toolpath"),
            "programs.toolpath": ("text", "name of the toolpath's file; of the tour's, without its ending"),
            "programs.differs": ("true or false", "true: the two programs are not the same"),
            "programs.first": ("object", "what became of the first's program"),
            "programs.first.outcome": ("text", OUTCOMES),
            "programs.first.words": ("text", "why it is not proved; empty where it is"),
            "programs.second": ("object", "the same of the second's"),
            "programs.second.outcome": ("text", "as in `first`"),
            "programs.second.words": ("text", "as in `first`"),
            "programs.everywhere": (
                "list of texts",
                "settings of block numbers and line endings that are at work on every line, and left out of `parts`",
            ),
            "programs.without_effect": (
                "list of texts",
                "settings, and templates as `template NAME`, that change nothing in this program",
            ),
            "programs.parts": ("list of objects", "the parts of the programs that differ, in their order"),
            "programs.parts.name": ("text", "the event or the rule of motion; `refusal` where there is no program"),
            "programs.parts.operation": ("whole number", "number of the toolpath's operation, from 1; 0 outside any"),
            "programs.parts.rows": ("list of objects", "its lines that differ, without block numbers"),
            "programs.parts.rows.first": ("text | null", "the line of the first program; null where only the second has one"),
            "programs.parts.rows.second": ("text | null", "the line of the second that answers it; null where only the first has one"),
            "programs.parts.rows.reasons": (
                "list of texts",
                "the settings, and templates as `template NAME`, that make the difference; those that can only be changed together "
                "stand in one text, with `with` between",
            ),
        },
    ),
    "controller new": Printed(
        "The new profile; with `--by-example` also what the trusted program shows, each setting with the line that shows it. Exit code 0.",
        {
            "schema": _SCHEMA,
            "folder": ("text", "the new folder, as it was asked for"),
            "extends": ("text", "name of the profile that it extends"),
            "example": ("text | absent", "name of the trusted program's file. This and all that follows: only with `--by-example`"),
            "claims": ("list of objects | absent", "the settings that it shows"),
            "claims.key": ("text", "the setting's dotted key"),
            "claims.value": ("any", f"its value, {SETTING}"),
            "claims.line": ("whole number | null", "the line that shows it, from 1; null where the whole file does"),
            "claims.text": ("text", "that line; empty where the whole file shows it"),
            "claims.why": ("text", "how the line shows it"),
            "claims.sure": ("true or false", "false: another reading is possible, so it has to be asked before it is used"),
            "unknown": ("list of texts | absent", "what it cannot show and somebody has to find out at the machine, in sentences"),
        },
    ),
    "centre find": Printed(
        "The centre of rotation from what was touched. Lengths are in `units`, uncertainties are standard ones (half of what is printed as "
        "*within*). Exit code 0; 3 where the touches do not agree: this is printed all the same, with `agrees` false, and no `error`.",
        {
            "schema": _SCHEMA,
            "along": ("text", "the axis to which the axis of rotation is parallel: `X`, `Y` or `Z`"),
            "units": ("text", "`mm` or `inch`: the unit of every length here, as given by `--units`"),
            "agrees": ("true or false", "false: do not use the numbers; `repeat` says what to touch again"),
            "centre": ("object", "the coordinates that were found, each under its axis; empty where only readings were given"),
            "centre.AXIS": ("object", "one coordinate"),
            "centre.AXIS.value": ("number", "the mean of its estimates, weighted by their uncertainties; in the frame of the touches"),
            "centre.AXIS.uncertainty": ("number", "its standard uncertainty"),
            "centre.AXIS.from": ("list of objects", "the estimates, one for each way in which it was found"),
            "centre.AXIS.from.value": ("number", "the coordinate by this estimate"),
            "centre.AXIS.from.uncertainty": ("number", "its standard uncertainty"),
            "centre.AXIS.from.how": ("text", "the way, in words"),
            "work_offset": (
                "object | null",
                "what to enter for the job's part, each number under its axis; null without `--job`, and where the touches do not agree",
            ),
            "work_offset.AXIS": ("object", "one number; along the axis only where the end of the stock is known"),
            "work_offset.AXIS.value": ("number", "the number to enter, for touches in machine coordinates"),
            "work_offset.AXIS.uncertainty": ("number", "its standard uncertainty"),
            "work_offset.AXIS.how": ("text | null", "how it follows from what was found; null where it is what was found"),
            "runout": ("object | null", "of the bar, from indicator readings; null without readings"),
            "runout.eccentricity": ("number | null", "how far the bar is off the axis; null where two readings give one direction only"),
            "runout.highest_at_deg": ("number | null", "the commanded angle at which it is highest, degrees, 0 to 360; null likewise"),
            "runout.mean": ("number", "the part of the readings that does not turn with the bar"),
            "runout.residual": ("number", "root mean square of what eccentricity and mean do not explain; 0 where nothing can be left"),
            "circle": ("object | null", "through the points where one feature was found; null without points"),
            "circle.radius": ("number", "its radius"),
            "circle.residual": ("number", "root mean square of the distances from it"),
            "flat": ("object | null", "the angle of a flat of the part; null where none was touched"),
            "flat.tilt_deg": (
                "number",
                "by how much the part is turned right-hand about the axis' + direction from where the flat is level",
            ),
            "flat.level_at_deg": ("number", "the commanded angle at which the flat is level"),
            "flat.uncertainty_deg": ("number", "its standard uncertainty"),
            "end": (
                "text | null",
                "what the coordinate along the axis belongs to: the end of the bar or the face of the chuck; null for neither",
            ),
            "repeat": ("list of texts", "what does not agree, and what to touch again, in sentences"),
            "notes": ("list of texts", "what else is worth knowing, in sentences"),
        },
    ),
    "centre line": Printed(
        "The line of one rotary of two, or the pivot of a head, from a ball. Lengths are in `units`, uncertainties are standard ones. Exit "
        "code 0; 3 where the places do not agree: this is printed all the same, with `agrees` false, and no `error`.",
        {
            "schema": _SCHEMA,
            "rotary": ("text", "the letter of the rotary that turned"),
            "axis": ("text", "where its axis points as the profile states it, in words"),
            "units": ("text", "`mm` or `inch`: the unit of every length here but `value_mm`"),
            "agrees": ("true or false", "false: do not use the numbers; `repeat` says what to find again"),
            "from": ("text", "from where `place` counts: `reference point`, or of a rotary in the head `gauge point`"),
            "place": (
                "object",
                "the point of the line that is nearest to the spindle's axis through there, each coordinate under its axis",
            ),
            "place.AXIS": ("object", "one coordinate"),
            "place.AXIS.value": ("number", "where it is"),
            "place.AXIS.uncertainty": ("number", "its standard uncertainty; 0 where any place along the line does"),
            "setting": (
                "text | null",
                "the setting of the profile that says the line, by its dotted key; null where the places do not agree, and for one rotary "
                "in the table, of which none is stated",
            ),
            "value_mm": ("list of numbers | null", "its value: X, Y and Z in mm; null likewise"),
            "angles": ("whole number", "at how many angles the ball was found"),
            "left_over": ("object", "what the line does not explain of the places"),
            "left_over.mean": ("number", "root mean square"),
            "left_over.worst": ("number", "the largest"),
            "lean": ("object | null", "how the line leans from where the profile says; null where the arc is too narrow to tell"),
            "lean.deg": ("object", "the lean, each component under its axis"),
            "lean.deg.AXIS": ("number", "degrees, towards + of that axis"),
            "lean.uncertainty_deg": ("number", "its standard uncertainty, degrees"),
            "repeat": ("list of texts", "what does not agree, and what to find again, in sentences"),
        },
    ),
    "centre place": Printed(
        "The offsets of a remembered place for today's mounting. Lengths are in `units`. Exit code 0.",
        {
            "schema": _SCHEMA,
            "name": ("text", "the name under which it is remembered"),
            "along": ("text", "the axis to which the axis of rotation is parallel: `X`, `Y` or `Z`"),
            "units": ("text", "`mm` or `inch`, in which it was remembered"),
            "centre": ("object", "the coordinates of the axis of rotation today, each under its axis"),
            "centre.AXIS": ("object", "one coordinate"),
            "centre.AXIS.value": ("number", "in the frame of `--reference`"),
            "centre.AXIS.uncertainty": ("number", "its standard uncertainty when it was found; 0 where none was stored"),
            "work_offset": ("object | null", "what to enter for the job's part, each number under its axis; null without `--job`"),
            "work_offset.AXIS": ("object", "one number; along the axis only where the end of the stock is known"),
            "work_offset.AXIS.value": ("number", "the number to enter, for touches in machine coordinates"),
            "work_offset.AXIS.uncertainty": ("number", "its standard uncertainty"),
            "work_offset.AXIS.how": ("text | null", "how it follows from what was found; null where it is what was found"),
        },
    ),
    "deliver": Printed(
        "A program that was judged again and is now where the machine reads it. Exit code 0; 3 where its outcome is `stop`: then there are "
        "`outcome`, `findings`, [`error`](errors.md#as-data) and `proof`, and none of the other keys.",
        {
            "schema": _SCHEMA,
            "outcome": ("text", "`run`, `look` or `stop`, as in [the verdict](verdict.md)"),
            "findings": ("any", "the list of findings, as in [the verdict](verdict.md)"),
            "target": ("text", "the full path of the program there"),
            "digest": ("text", "SHA-256 of its bytes, 64 hexadecimal digits"),
            "former": ("text | null", "where the former version is kept; null where there was none, or the same bytes were there already"),
            "broken_off": (
                "any",
                "a list of texts, mostly empty: what became of earlier deliveries that ended before their line was in the log",
            ),
            "already_there": ("true or false", "true: the same bytes were there already"),
            "log": ("text", "the log file"),
            "proof": ("object", "[the verdict](verdict.md), with all its keys; lengths in its `units`"),
        },
        verdicts=("proof",),
    ),
    "report": Printed(
        "What was found about the program: [the verdict](verdict.md) with all its keys, the outcome and its findings among them. Its "
        "`program` is the program's name, or a sentence where a toolpath alone was given. Exit code 0; 3 where the outcome is `stop`: this "
        "is printed all the same, and no `error`.",
        {},
        verdicts=("",),
        also=("picture", "setup-sheet"),
    ),
}
"""By the command's name, `steadyrest` left out."""
