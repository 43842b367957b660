"""The explaining room: where each word of a program's line comes from. Written anew in memory, and held against the file."""

from steadyrest.explaining.explanation import Section, Written, explain, explain_lines, lines_of, sections, write_anew
from steadyrest.explaining.model import Explained, Explanation, Setting
from steadyrest.explaining.text import SCHEMA, explanation_data, explanation_text
from steadyrest.explaining.word_origins import pieces

__all__ = [
    "SCHEMA", "Explained", "Explanation", "Section", "Setting", "Written", "explain", "explain_lines", "explanation_data",
    "explanation_text", "lines_of", "pieces", "sections", "write_anew",
]  # fmt: skip
