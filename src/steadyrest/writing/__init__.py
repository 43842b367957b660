"""The writing room: axis motion and events become the text of a program, and the text a file."""

from steadyrest.writing.place import Placed, put_in_place
from steadyrest.writing.program import Writing, write_program

__all__ = ["Placed", "Writing", "put_in_place", "write_program"]
