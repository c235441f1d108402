"""Settings of the documents. Built with ``python3 go.py docs``; a warning is an error."""

from __future__ import annotations

import runpy
from pathlib import Path

from soakage import __version__

HERE = Path(__file__).parent

# Pages that are made from the house itself: criteria, methods, profile, keys, formulas. Run as a script, so
# that what it writes is there before Sphinx looks for files.
if (HERE / "generate.py").exists():
    runpy.run_path(str(HERE / "generate.py"), run_name="__main__")

project = "Soakage"
author = "The Soakage project"
version = release = __version__

extensions = ["myst_parser"]
myst_enable_extensions = ["colon_fence", "deflist"]
myst_heading_anchors = 3
exclude_patterns = ["_build", "made", "examples"]
nitpicky = True
source_suffix = {".md": "markdown"}

# The theme uses the reader's own fonts and loads nothing from outside. There is no TeX in these pages:
# formulas stand as text, so no script has to be fetched to set them. `go.py docs` checks the pages for this.
html_theme = "furo"
html_title = f"Soakage {__version__}"
html_copy_source = False
html_show_sphinx = False
html_show_copyright = False
html_static_path = ["_static"]
html_css_files = ["soakage.css"]
