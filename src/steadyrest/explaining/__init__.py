"""The explaining room: where each word of a program's line comes from. Written anew in memory, and held against the file."""

from steadyrest.explaining.explanation import explain
from steadyrest.explaining.model import Explained, Explanation, Setting
from steadyrest.explaining.text import SCHEMA, explanation_data, explanation_text

__all__ = ["SCHEMA", "Explained", "Explanation", "Setting", "explain", "explanation_data", "explanation_text"]
