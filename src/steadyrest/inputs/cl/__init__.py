"""CL data in text form: the door is the reader `CL_TEXT`."""

from steadyrest.inputs.cl.reader import CL_TEXT, cl_piece

__all__ = ["CL_TEXT", "cl_piece"]
