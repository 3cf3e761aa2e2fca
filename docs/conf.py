"""How the documentation is built."""

project = "Lapwright"
copyright = "the Lapwright developers"
extensions = ["myst_parser", "sphinx.ext.mathjax"]
myst_enable_extensions = ["dollarmath", "deflist", "attrs_block"]
myst_heading_anchors = 3
html_theme = "furo"
html_title = "Lapwright"
exclude_patterns = ["_build"]
