"""The report room: a finished program, read back, as one page for the browser or as a single picture.

`look` reads, proves and simulates; `write_page`, `page_parts` and `draw` show what it found, `both_sides` why a program is refused.
All that is shown comes from the program's own text: the room knows nothing of planning and writing.
"""

from steadyrest.viewer.looked import Looked, look
from steadyrest.viewer.page import PageParts, SetupSheet, page_files, page_parts, write_page
from steadyrest.viewer.pictures import PICTURES, PictureForm, PictureOf, draw
from steadyrest.viewer.side_by_side_drawing import SideBySide, both_sides
from steadyrest.viewer.views import outline

__all__ = [
    "PICTURES", "Looked", "PageParts", "PictureForm", "PictureOf", "SetupSheet", "SideBySide", "both_sides", "draw", "look", "outline",
    "page_files", "page_parts", "write_page",
]  # fmt: skip
