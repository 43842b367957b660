"""How the site is built: plain pages, nothing from the network, every warning an error (`-W`, `-n`)."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

project = "steadyrest"
author = "the maintainers"
copyright = author
extensions = ["myst_parser", "making.twins"]
source_suffix = {".md": "markdown"}
root_doc = "index"
exclude_patterns = ["making"]
myst_heading_anchors = 3
myst_enable_extensions = ["colon_fence", "deflist"]
highlight_language = "none"
pygments_style = "bw"
html_theme = "basic"
html_title = "steadyrest"
html_short_title = "All pages"
html_use_index = False
templates_path = ["_templates"]
html_sidebars = {"**": ["searchfield.html", "every_page.html"]}
html_static_path = ["_static"]
html_css_files = ["site.css"]
html_show_sourcelink = False
html_copy_source = False
html_show_copyright = False
html_show_sphinx = False
suppress_warnings = ["misc.highlighting_failure"]
