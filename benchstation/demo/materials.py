"""What the demo shop has received: kits, lots of parts, torque wrenches and check weights."""

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from benchstation.domain.events import Event, MaterialReceived
from benchstation.domain.materials import Material, Sort
from benchstation.domain.specification import Specification
from benchstation.domain.wanted_materials import Wanted, wanted_by

KIT, OTHER_KIT = "K-88", "K-87"
WRENCH, OVERDUE_WRENCH = "TW-07", "TW-03"
WEIGHT = "CW-200"
_YEARS_OF_KEEPING = 3


def part_lot(kit: str, number: str) -> str:
    """Return the lot that stands on the bag of a part that came with a kit."""
    return f"{kit}-{number}"


def kit_events(specifications: Iterable[Specification], kit: str, day: date) -> list[Event]:
    """Return the receipt of kits of one lot for every family, with the bags of their parts."""
    wanted = {
        (w.sort, w.number): w
        for specification in specifications
        for step in specification.steps
        for w in wanted_by(step)
        if w.sort is not Sort.WRENCH
    }
    return [MaterialReceived(_of_kit(w, kit, day)) for w in wanted.values()]


def _of_kit(wanted: Wanted, kit: str, day: date) -> Material:
    lot = kit if wanted.sort is Sort.KIT else part_lot(kit, wanted.number)
    until = day + timedelta(days=365 * _YEARS_OF_KEEPING)
    return Material(
        wanted.sort,
        wanted.number,
        lot,
        wanted.label,
        "Seal supplier, invented",
        day.isoformat(),
        until.isoformat(),
    )


def _calibrated(today: date) -> Iterator[Material]:
    got, ahead = (today - timedelta(days=200)).isoformat(), timedelta(days=165)
    maker = "Calibration laboratory, invented"
    until = (today + ahead).isoformat()
    over = (today - timedelta(days=20)).isoformat()
    name = "Torque wrench, 2 to 25 N m"
    yield Material(Sort.WRENCH, "", WRENCH, name, maker, got, until, "T-311")
    yield Material(Sort.WRENCH, "", OVERDUE_WRENCH, name, maker, got, over, "T-198")
    weight = "Check weight, 200 g"
    yield Material(Sort.WEIGHT, "", WEIGHT, weight, maker, got, until, "M-204", 0.2, "F2")


def received(specifications: Iterable[Specification], today: date) -> list[Event]:
    """Return what the shop's journal begins with of its materials."""
    day, all_of = today - timedelta(days=14), list(specifications)
    events = [*kit_events(all_of, OTHER_KIT, day), *kit_events(all_of, KIT, day)]
    return [*events, *(MaterialReceived(one) for one in _calibrated(today))]
