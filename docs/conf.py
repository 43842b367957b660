"""How the site is built: plain pages, nothing from the network, every warning an error (`-W`, `-n`)."""

project = "steadyrest"
author = "the maintainers"
copyright = author
extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
root_doc = "index"
exclude_patterns = ["making"]
myst_heading_anchors = 3
myst_enable_extensions = ["colon_fence", "deflist"]
highlight_language = "none"
html_theme = "alabaster"
html_theme_options = {
    "description": "Toolpaths for a mill with a rotary become proved programs.",
    "fixed_sidebar": True,
    "page_width": "1180px",
    "sidebar_width": "250px",
    "show_powered_by": False,
}
html_sidebars = {"**": ["about.html", "searchfield.html", "navigation.html"]}
html_static_path = ["_static"]
html_css_files = ["site.css"]
html_show_sourcelink = False
html_copy_source = False
html_show_copyright = False
suppress_warnings = ["misc.highlighting_failure"]
