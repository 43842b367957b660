"""A screen on a page of the site is there twice, light and dark: the page names the light one, the style shows the one that fits.

What is wide, screens and drawn lines of text, gets a name for the style, so that it can be read on a telephone too: it scrolls by itself.
"""

from __future__ import annotations

from typing import Any

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.transforms import SphinxTransform

LIGHT, DARK = "-light.webp", "-dark.webp"
DRAWN = ("drawings/terminal-", "drawings/settings-", "drawings/templates", "pictures/sheet")
"""Wide pictures without a twin."""


class Twins(SphinxTransform):
    """Puts its dark twin behind each picture whose file ends in `-light.webp`."""

    default_priority = 400

    def apply(self, **_: Any) -> None:
        """Change the page."""
        for image in list(self.document.findall(nodes.image)):
            if any(name in image["uri"] for name in DRAWN):
                image["classes"].append("drawn")
            if image["uri"].endswith(LIGHT):
                twin = image.deepcopy()
                twin["uri"] = image["uri"].removesuffix(LIGHT) + DARK
                image["classes"] += ["screen", "light"]
                twin["classes"] += ["screen", "dark"]
                image.parent.insert(image.parent.index(image) + 1, twin)


def scrolled_by_keys(app: Sphinx, page: str, template: str, context: dict[str, Any], tree: nodes.document | None) -> None:
    """What scrolls by itself can be reached by the keys too (WCAG 2.1.1)."""
    if "body" in context:
        context["body"] = (
            context["body"].replace("<pre>", '<pre tabindex="0">').replace('<table class="docutils', '<table tabindex="0" class="docutils')
        )


def setup(app: Sphinx) -> dict[str, bool]:
    """What the site's builder calls."""
    app.add_transform(Twins)
    app.connect("html-page-context", scrolled_by_keys)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
