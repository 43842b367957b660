"""Settings that are each allowed but not together. One line a rule: what is stated, the key that is named, words of the sentence."""

from __future__ import annotations

import pytest
from profile_parts import INCREMENTAL, MOUNTED_B, MakeProfile, Refusal

from steadyrest.profile import load_profile

RULES = {
    "clamping and releasing differ": (
        'rotary.A.clamp = {use = "indexing", on = "M10", off = "M010"}',
        "rotary.A.clamp.off",
        "M010 is already the code of rotary.A.clamp.on",
    ),
    "a replaced axis counts in F": (
        'rotary.A.replaces = "Y"\nrotary.A.mm_per_degree = 1',
        "feed.per_minute_counts",
        "the drive of Y is a linear axis",
    ),
    "no arc turns the part": (
        'rotary.A.replaces = "Y"\nrotary.A.mm_per_degree = 1\nfeed.per_minute_counts = "all_axes"',
        "arcs.planes",
        "an arc in XY would turn the part",
    ),
    "no cycle turns the part": (
        'rotary.A.replaces = "Y"\nrotary.A.mm_per_degree = 1\nfeed.per_minute_counts = "all_axes"\narcs.planes = ["XZ"]',
        "cycles",
        "Y would turn the part",
    ),
    "one rotary along an axis": (MOUNTED_B, "rotary.B.along", "two rotaries, A and B, along X"),
    "inverse and per minute differ": ('feed.inverse_code = "G94"', "feed.inverse_code", "G94 is already the code of feed.per_minute_code"),
    "arcs need their codes": ('codes.arc_clockwise = ""', "codes.arc_clockwise", "there is no code"),
    "planes need their codes": ('codes.plane_yz = ""', "codes.plane_yz", "there is no code"),
    "motion needs a code": ('codes.rapid = ""', "codes.rapid", "there is no code"),
    "a program ends": ('stops.end = ""', "stops.end", "every program needs an end"),
    "a change by hand needs a stop": ('tool.change = ""\nstops.program = ""', "stops.program", "changed by hand"),
    "a pause of the spindle needs a code": ('spindle.dwell = 1\ncodes.dwell = ""', "codes.dwell", "asks for a pause"),
    "a clamp for indexing needs the code on": (
        'rotary.A.clamp = {use = "indexing", off = "M11"}',
        "rotary.A.clamp.on",
        "used for indexing",
    ),
    "a clamp for indexing needs the code off": (
        'rotary.A.clamp = {use = "indexing", on = "M10"}',
        "rotary.A.clamp.off",
        "used for indexing",
    ),
    "inverse time needs a code": ('feed.inverse_code = ""', "feed.inverse_code", "inverse time is chosen for rotary and combined moves"),
    "inverse time needs a way back": ('feed.per_minute_code = ""', "feed.per_minute_code", "come back from inverse time"),
    "a spindle that starts stops": ('spindle.stop = ""', "spindle.stop", "there is one to start the spindle"),
    "coolant that starts stops": ('coolant.off = ""', "coolant.off", "there is one for coolant on"),
    "cycles end": ('cycles.cancel = ""', "cycles.cancel", "cycles, which have to end"),
    "letters of a cycle differ": ('cycles.peck_letter = "R"', "cycles.peck_letter", "R is already the letter of cycles.r_letter"),
    "a length offset has no letter of the tool": (
        'tool.offset_letter = "T"',
        "tool.offset_letter",
        "T is already the letter of tool.letter",
    ),
    "the one unit has its code": ('units.mm = ""\nunits.program = "mm"', "units.mm", "there is one for the other unit"),
    "a retract has its code": ('retract.machine_code = ""', "retract.machine_code", "retracts go to the machine's zero"),
    "a retract to the reference point has its code": (
        'retract.form = "reference"\nretract.reference_code = ""',
        "retract.reference_code",
        "retracts go to the reference point",
    ),
    "a pause of the clamp needs a code": ('rotary.A.clamp.dwell = 1\ncodes.dwell = ""', "codes.dwell", "the clamp asks for a pause"),
    "a block number is not the letter of repeats": (
        'program.block_numbers.use = "every_block"\nprogram.block_numbers.letter = "L"',
        "program.block_numbers.letter",
        "L is the number of repeats",
    ),
    "two codes differ": ('codes.line = "G00"', "codes.line", "G00 is already the code of codes.rapid"),
    "two codes of different groups differ": ('coolant.air = "M5"', "coolant.air", "M5 is already the code of spindle.stop"),
    "a pause has no letter of an axis": ('codes.dwell_letter = "X"', "codes.dwell_letter", "already has a meaning"),
    "a pause has not the letter of repeats": ('codes.dwell_letter = "L"', "codes.dwell_letter", "L is the number of repeats"),
    "a level has no letter of the rotary": ('cycles.r_letter = "A"', "cycles.r_letter", "already has a meaning"),
    "a block number has no letter of motion": (
        'program.block_numbers.use = "every_block"\nprogram.block_numbers.letter = "F"',
        "program.block_numbers.letter",
        "already has a meaning",
    ),
    "a code has no letter of motion": ('coolant.air = "X7"', "coolant.air", "begins with the letter of an axis"),
    "the order names every letter": ('words.order = "NGXYZBCIJKRPQLFSTHDM"', "words.order", "leaves out A"),
    "block numbers come first": (
        'program.block_numbers.use = "every_block"\nwords.order = "GNXYZABCIJKRPQLFSTHDM"',
        "words.order",
        "has to come first",
    ),
    "repeated axes are axes": ('words.repeat_axes = "XB"', "words.repeat_axes", "B is not an axis"),
    "a safe start sends nothing home": ('program.safe_start = ["G28"]', "program.safe_start", "G28 acts on the machine"),
    "a safe start turns no plane": ('program.safe_start = ["G18"]', "program.safe_start", "G18 acts on the machine"),
    "a safe start turns no coordinates": ('program.safe_start = ["G17 G68.2"]', "program.safe_start", "turned, mirrored"),
    "a safe start scales nothing": ('program.safe_start = ["G51"]', "program.safe_start", "scaled"),
    "a safe start selects no other offset": ('program.safe_start = ["G55"]', "program.safe_start", "offsets, coordinates"),
    "a safe start shifts no coordinates": ('program.safe_start = ["G92.1"]', "program.safe_start", "offsets, coordinates"),
    "a safe start calls no program": ('program.safe_start = ["M98"]', "program.safe_start", "programs and macros"),
    "a safe start has no coolant on": ('program.safe_start = ["M08"]', "program.safe_start", "M08 acts on the machine"),
    "a safe start has no path mode but the profile's": (
        'codes.path_mode = "G61"\nprogram.safe_start = ["G17 G64"]',
        "program.safe_start",
        "another path mode than G61",
    ),
    "turned coordinates are not taken on trust": ('codes.trusted = ["G68"]', "codes.trusted", "turned, mirrored"),
    "an offset is not taken on trust": ('codes.trusted = ["G56"]', "codes.trusted", "offsets, coordinates"),
    "a program that is called is not taken on trust": ('codes.trusted = ["M98"]', "codes.trusted", "programs and macros"),
    "a tool change is not taken on trust": ('tool.change = ""\ncodes.trusted = ["M6"]', "codes.trusted", "motion, tool, spindle"),
    "a safe start starts no spindle": ('program.safe_start = ["G17 M03"]', "program.safe_start", "M03 acts on the machine"),
    "absolute words need no start": ("program.start_position = [0, 0, 100, 0]", "program.start_position", "for incremental words only"),
    "an angle for every rotary at the start": (
        'words.distance = "incremental"\nprogram.start_position = [0, 0, 100, 0, 0]',
        "program.start_position",
        "the start position has 2 angles, and the program turns one rotary",
    ),
    "steps start somewhere": ('words.distance = "incremental"', "program.start_position", "need a start position"),
    "steps know no machine coordinates": (
        INCREMENTAL.replace("height", "machine_zero"),
        "retract.form",
        "ends at a position unknown to the program",
    ),
    "steps know no reference point": (
        INCREMENTAL.replace("height", "reference"),
        "retract.form",
        "ends at a position unknown to the program",
    ),
    "cycles in steps count from the R level": (INCREMENTAL, "cycles.depth_from", "cannot give the depth of a cycle as a position"),
    "steps do not roll over": (
        INCREMENTAL + 'cycles.depth_from = "r_level"\nrotary.A.travel.kind = "rollover"',
        "rotary.A.travel.kind",
        "do not roll over",
    ),
    "steps come back": (INCREMENTAL + 'cycles.depth_from = "r_level"', "rotary.A.unwinding.at_end", "has to come back"),
}


@pytest.mark.parametrize(("text", "key", "sentence"), RULES.values(), ids=RULES.keys())
def test_an_impossible_combination_is_refused_by_name(refusal: Refusal, text: str, key: str, sentence: str) -> None:
    error = refusal(text)
    assert key == error.place.key
    assert sentence in error.wrong


def test_the_same_clamp_codes_for_two_rotaries_are_possible(make_profile: MakeProfile) -> None:
    clamp = 'clamp.use = "indexing"\nclamp.on = "M10"\nclamp.off = "M11"\n'
    text = f'extends = "rs274ngc"\n[rotary.A]\n{clamp}\n{MOUNTED_B.replace("X", "Y")}\n{clamp}'
    assert ["A", "B"] == list(load_profile(make_profile("child", text)).rotary)


def test_arcs_in_one_plane_only_need_no_code_for_it(make_profile: MakeProfile) -> None:
    text = 'extends = "rs274ngc"\narcs.planes = ["XY"]\ncodes.plane_xy = ""\n'
    assert "" == load_profile(make_profile("child", text)).codes.plane_xy
