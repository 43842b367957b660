"""The report room: a finished program, read back, as one page for the browser or as a single picture.

`look` reads, proves and simulates; `write_page` and `draw` show what it found. All that is shown comes from the program's own text:
the room knows nothing of planning and writing.
"""

from steadyrest.viewer.looked import Looked, look
from steadyrest.viewer.page import SetupSheet, write_page
from steadyrest.viewer.pictures import PICTURES, PictureForm, PictureOf, draw

__all__ = [
    "PICTURES", "Looked", "PictureForm", "PictureOf", "SetupSheet", "draw", "look", "write_page",
]  # fmt: skip
