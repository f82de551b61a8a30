"""The documentation's site, for Sphinx. `make docs` puts the pages together first: see tools/site.py."""

project = "Platewright"
copyright = "The Platewright authors"  # noqa: A001, the name is Sphinx's
extensions = ["myst_parser"]
myst_heading_anchors = 4
myst_enable_extensions = ["colon_fence"]
smartquotes = False  # options of the command line begin with two hyphens
exclude_patterns = ["_*"]
html_theme = "alabaster"
html_theme_options = {
    "fixed_sidebar": True,
    "page_width": "1080px",
    "sidebar_width": "230px",
    "description": "Plan the electroplating of a printed part",
    "font_family": "system-ui, sans-serif",
    "head_font_family": "system-ui, sans-serif",
}
html_static_path = ["_static"]
html_css_files = ["site.css"]
html_show_sourcelink = html_show_sphinx = html_copy_source = False
html_sidebars = {"**": ["about.html", "searchbox.html", "navigation.html"]}
highlight_language = "none"
