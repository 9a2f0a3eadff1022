"""Lines about what units are measured with and made of: instruments, lots of oil, materials."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from benchstation.domain.materials import Standing as Supply
from benchstation.domain.shop_chain import SHOP
from benchstation.metrology.due import Standing, standing
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import SINCE
from benchstation.screens.records.instrument_search import units_in_words
from benchstation.screens.worklist.lines import Desk, WorkLine
from benchstation.store.instruments_known import KnownInstrument, instruments_known
from benchstation.store.recall import count_in, doubt_about

SOON = timedelta(days=30)
RECORDS, INSTRUMENTS, MATERIALS = "records", "instruments", "materials"
_DUE = {
    Standing.OVERDUE: "calibration overdue since {}",
    Standing.DUE_SOON: "calibration due {}",
    Standing.UNKNOWN: "calibrated until a day that is not on record",
}


def failed_instruments(desk: Desk) -> Sequence[WorkLine]:
    """Return the instruments whose newest check failed, with the units that are in doubt by it."""
    found = []
    for one in instruments_known(desk.store):
        if one.check is None or one.check.passed:
            continue
        name = one.registered.instrument_id
        doubt = doubt_about(desk.store, name, one.bench)
        units = units_in_words(count_in(desk.store, name, doubt, one.bench))
        place = f"{name}{SINCE}"
        why = f"{one.check.check} failed; {units[:1].lower()}{units[1:]} on it since it was good"
        found.append(_line(one, why, Tone.DANGER, RECORDS, place, "See the units in doubt"))
    return found


def due_instruments(desk: Desk) -> Sequence[WorkLine]:
    """Return the instruments whose calibration is overdue, unknown or due within 30 days."""
    found = []
    for one in instruments_known(desk.store):
        until = one.registered.calibrated_until
        due = standing(date.fromisoformat(until) if until else None, desk.today)
        if due is Standing.VALID:
            continue
        tone = Tone.QUIET if due is Standing.DUE_SOON else Tone.CAUTION
        name = one.registered.instrument_id
        here = desk.store.bench != SHOP
        page, place = (INSTRUMENTS, name) if here else (RECORDS, f"instrument:{name}")
        act = "Go to the instrument" if here else "See its units"
        found.append(_line(one, _DUE[due].format(until), tone, page, place, act))
    return found


def expiring(desk: Desk) -> Sequence[WorkLine]:
    """Return the lots that are still offered and end within 30 days, the first to end first."""
    ends = desk.today + SOON
    found = [
        (line.why, line) for line in (*_oils(desk), *_materials(desk)) if line.why <= str(ends)
    ]
    return [
        WorkLine(
            line.subject,
            line.title,
            f"may be used until {line.why}",
            line.tone,
            line.page,
            line.place,
            line.act,
            line.beside,
        )
        for _, line in sorted(found, key=lambda pair: pair[0])
    ]


def _oils(desk: Desk) -> Iterator[WorkLine]:
    for lot in desk.shop.open_lots(desk.today):
        if lot.until:
            yield _lot(f"oil {lot.lot}", lot.lot, lot.until, lot.lot, lot.oil)


def _materials(desk: Desk) -> Iterator[WorkLine]:
    stock = desk.shop.stock
    for material in list(stock.received.values()):
        if material.until and stock.standing(material, desk.today) is Supply.OPEN:
            subject = "|".join(material.key)
            yield _lot(subject, material.lot, material.until, "", material.name)


def _lot(subject: str, title: str, until: str, place: str, beside: str) -> WorkLine:
    act = "Go to Materials"
    return WorkLine(subject, title, until, Tone.QUIET, MATERIALS, place, act, beside)


def _line(one: KnownInstrument, why: str, tone: Tone, page: str, place: str, act: str) -> WorkLine:
    name = one.registered.instrument_id
    return WorkLine(
        f"{one.bench} {name}", one.registered.title, why, tone, page, place, act,
        f"{name}, {one.bench}",
    )  # fmt: skip
