"""Every page of the window on a bench, as the window names them: a new page is in every test."""

from benchstation.ui.shell.page_names import BY_KEY, PAGES
from benchstation.ui.shell.window import HELP

KEYS = {name: key for name, _, key in (*PAGES, *BY_KEY)} | dict([HELP])
"""The key of each page by its name."""
EVERY_PAGE = tuple(KEYS)
ASIDE = tuple(name for name in EVERY_PAGE if name != "bench")
"""Those beside the bench, which is looked at moment by moment."""
