"""The writing room: axis motion and events become the text of a program, and the text a file."""

from steadyrest.writing.place import Placed, check_no_input, put_in_place
from steadyrest.writing.program import Writing, write_program
from steadyrest.writing.recording import Recording

__all__ = ["Placed", "Recording", "Writing", "check_no_input", "put_in_place", "write_program"]
