"""The window's pages: name, title and key."""

PageNames = tuple[tuple[str, str, str], ...]
QUALITY = ("quality", "Quality", "Shift+F5")
SETTLING = ("settling", "To settle", "Shift+F4")
WORKLIST = ("worklist", "Worklist", "Shift+F3")
AUDIT = ("audit", "Audit trail", "Shift+F7")

PAGES: PageNames = (
    ("bench", "Bench", "F2"),
    ("queue", "Queue", "F3"),
    ("records", "Records", "F4"),
    ("specifications", "Specifications", "F5"),
    ("instruments", "Instruments", "F6"),
    ("people", "People", "F7"),
    ("materials", "Materials", "F11"),
)
BY_KEY: PageNames = (
    ("day", "Start of the day", "Shift+F2"),
    QUALITY,
    ("settings", "Settings", "Shift+F6"),
    SETTLING,
    WORKLIST,
    AUDIT,
)
"""Pages without a place in the status bar, which would take a row more for it."""

WHOLE_SHOP: PageNames = (
    ("bench", "Shop", "F2"),
    *(page for page in PAGES if page[0] not in ("bench", "instruments")),
    QUALITY,
    WORKLIST,
    SETTLING,
)
"""Those of a window on the records of a whole shop: nothing is measured there."""
BY_KEY_OF_SHOP: PageNames = (AUDIT,)
