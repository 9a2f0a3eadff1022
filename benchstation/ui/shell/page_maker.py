"""Makes a page when it is first asked for: what nobody opens costs no start-up time."""

from collections.abc import Callable

from benchstation.screens.model.onboarding import OnboardingService
from benchstation.ui.pages.page import Page
from benchstation.ui.shell.bridge import Bridge
from benchstation.ui.widgets.drawings.picture import Picture


def make_page(
    name: str,
    bridge: Bridge,
    adding: OnboardingService | None,
    picture_of: Callable[[str, int], Picture | None],
) -> Page:
    """Return a new page of this name."""
    if name == "records":
        from benchstation.ui.pages.records import RecordsPage

        return RecordsPage(bridge)
    if name == "specifications":
        from benchstation.ui.pages.specifications import SpecificationsPage

        return SpecificationsPage(bridge)
    if name == "queue":
        from benchstation.ui.pages.queue import QueuePage

        return QueuePage(bridge)
    if name == "help":
        from benchstation.ui.pages.help import HelpPage

        return HelpPage(picture_of)
    if name == "day":
        from benchstation.ui.pages.day import DayPage

        return DayPage(bridge)
    if name == "settings":
        from benchstation.ui.pages.settings import SettingsPage

        return SettingsPage(bridge)
    if name == "settling":
        from benchstation.ui.pages.settling import SettlingPage

        return SettlingPage(bridge)
    if name == "quality":
        from benchstation.ui.pages.quality import QualityPage

        return QualityPage(bridge)
    if name == "audit":
        from benchstation.ui.pages.audit import AuditPage

        return AuditPage(bridge)
    if name == "worklist":
        from benchstation.ui.pages.worklist import WorklistPage

        return WorklistPage(bridge)
    if name == "people":
        from benchstation.ui.pages.people import PeoplePage

        return PeoplePage(bridge)
    if name == "materials":
        from benchstation.ui.pages.materials import MaterialsPage

        return MaterialsPage(bridge)
    from benchstation.ui.pages.instruments import InstrumentsPage

    return InstrumentsPage(bridge, adding)
