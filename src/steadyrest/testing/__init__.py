"""Which toolpaths should a property hold for? Hypothesis strategies for valid, physically sensible toolpaths.

Needs hypothesis; only tests import this. The toolpaths are sensible in this: rapids go at a height outside the swept
radius, or straight up and down; cuts stay within the stock's length; tool axes turn by less than a quarter turn from
point to point; everything is relative to `centre`.

A shop's test of a profile (a whole repository is in `examples/shop`):

    from hypothesis import given
    from steadyrest.errors import PlanError
    from steadyrest import posted_text
    from steadyrest.testing import toolpaths

    @given(toolpaths(axis="X", intents=("indexed", "still"), arcs=False, events=False))
    def test_no_line_is_longer_than_the_screen(toolpath):
        try:
            text = posted_text(toolpath, "controllers/corner-mill")  # written, read back and proved; Refused where that fails
        except PlanError:
            return  # refused in words, because the controller cannot do it
        assert max(map(len, text.splitlines())) <= 80

`toolpaths` gives models; `toolpath_data` gives what the JSON file would hold, to be changed before `parse_toolpath`, and `table_of`
turns moves into a table.
"""

from steadyrest.testing.space import Draw
from steadyrest.testing.toolpaths import INTENTS, table_of, toolpath_data, toolpaths

__all__ = ["INTENTS", "Draw", "table_of", "toolpath_data", "toolpaths"]
