"""The report room: a finished program, read back, as one page for the browser or as a single picture.

`look` reads, proves and simulates; `write_page` and `draw` show what it found. All that is shown comes from the program's own text:
the room knows nothing of planning and writing.
"""

from steadyrest.report.colours import OPERATION_COLOURS
from steadyrest.report.looked import Looked, look
from steadyrest.report.page import write_page
from steadyrest.report.pictures import PICTURES, PictureForm, PictureOf, draw
from steadyrest.report.track import Track

__all__ = [
    "OPERATION_COLOURS",
    "PICTURES",
    "Looked",
    "PictureForm",
    "PictureOf",
    "Track",
    "draw",
    "look",
    "write_page",
]
