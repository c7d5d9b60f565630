"""How Sphinx builds these pages: ``sphinx-build -W --keep-going -b html splitterfem/docs OUT``.

Not part of the installed package.
"""

from __future__ import annotations

from splitterfem.version import __version__

project = "splitterfem"
release = version = __version__

extensions = ["sphinx.ext.autodoc", "sphinx.ext.autosummary", "numpydoc", "myst_parser"]
root_doc = "index"
templates_path = ["templates"]
exclude_patterns = ["templates"]
myst_heading_anchors = 3

autosummary_generate = True
autodoc_typehints = "none"  # the docstrings say types in the words of numpydoc
numpydoc_show_class_members = False  # the template of classes lists them
# Blank lines, sections, summaries, and parameters that are documented and do not exist.  Records describe their fields
# once, also where the fields of another record are meant ("**others"), and classes of results their attributes.
numpydoc_validation_checks = {"GL03", "GL06", "GL07", "SS03", "SS04", "PR02", "PR04", "PR10", "RT03"}
numpydoc_validation_exclude = {r"\.model_\w+$", r"\.study\.Fit$"}  # pydantic's own, and an alias of types
numpydoc_validation_overrides = {"PR02": [r"\*\*(others|all)"]}

html_theme = "alabaster"
html_show_copyright = False
html_show_sourcelink = False
