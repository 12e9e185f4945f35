"""Settings of the documentation: Sphinx reading Markdown."""

import tomllib
from pathlib import Path

_ROOT = Path(__file__).resolve().parent.parent
_PROJECT = tomllib.loads((_ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

project = "Fanlight"
author = "the Fanlight contributors"
project_copyright = "the Fanlight contributors, Apache-2.0"
extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build"]
myst_heading_anchors = 3
myst_enable_extensions = ["colon_fence", "deflist"]

html_theme = "furo"
html_title = "Fanlight"
# The pages are read from a folder, without a network: nothing of theirs is fetched.
html_show_sphinx = False
html_copy_source = False
