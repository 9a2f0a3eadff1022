"""The pages that need nothing of the window but the bridge, made when they are first asked for."""

from benchstation.ui.pages.page import Page
from benchstation.ui.shell.bridge import Bridge


def plain_page(name: str, bridge: Bridge) -> Page | None:
    """Return a page by its name; ``None`` for one that the window joins to others."""
    # Imported here: a window that never shows a page does not wait for it at its start.
    match name:
        case "records":
            from benchstation.ui.pages.records import RecordsPage

            return RecordsPage(bridge)
        case "specifications":
            from benchstation.ui.pages.specifications import SpecificationsPage

            return SpecificationsPage(bridge)
        case "day":
            from benchstation.ui.pages.day import DayPage

            return DayPage(bridge)
        case "settings":
            from benchstation.ui.pages.settings import SettingsPage

            return SettingsPage(bridge)
        case "people":
            from benchstation.ui.pages.people import PeoplePage

            return PeoplePage(bridge)
        case "settling":
            from benchstation.ui.pages.settling import SettlingPage

            return SettlingPage(bridge)
        case _:
            return None
