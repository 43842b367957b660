"""The writing room: axis motion and events become the text of a program, and the text a file."""

from steadyrest.writing.atomic_file import PUT, alone, check_no_input, hold, is_left, put_in_place
from steadyrest.writing.event_lines import PLAIN_LINES, facts_of, setting_key
from steadyrest.writing.program import Writing, write_program
from steadyrest.writing.recording import Origin, Printed, Record
from steadyrest.writing.template_rules import FILTERS
from steadyrest.writing.templates import Templates
from steadyrest.writing.word_formats import CENTRE_LETTERS, AxisWord, WordFormat, word_format

__all__ = [
    "CENTRE_LETTERS",
    "FILTERS",
    "PLAIN_LINES",
    "PUT",
    "AxisWord",
    "Origin",
    "Printed",
    "Record",
    "Templates",
    "WordFormat",
    "Writing",
    "alone",
    "check_no_input",
    "facts_of",
    "hold",
    "is_left",
    "put_in_place",
    "setting_key",
    "word_format",
    "write_program",
]
