"""The page Worklist: a line for each thing that waits; a further kind is one more of ``KINDS``."""

from collections.abc import Iterator, Sequence

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.elements import ActionView, TermGroup, TermView
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.worklist import LEAD, PAGE, PLACE
from benchstation.screens.worklist.charts import fired_rules
from benchstation.screens.worklist.lines import Desk, WorkKind, WorkLine
from benchstation.screens.worklist.things import due_instruments, expiring, failed_instruments
from benchstation.screens.worklist.units import (
    deviations,
    on_hold,
    returned,
    second_readings,
    second_signatures,
    to_release,
    to_tell,
)
from benchstation.store.filters import By, Filters, units_that
from benchstation.store.instruments_known import instruments_known

KINDS = (
    WorkKind("failed", "check failed", failed_instruments),
    WorkKind("hold", "on hold", on_hold),
    WorkKind("deviation", "deviation", deviations),
    WorkKind("tell", "tell customer", to_tell),
    WorkKind("returned", "returned", returned),
    WorkKind("signature", "second signature", second_signatures),
    WorkKind("release", "to be released", to_release),
    WorkKind("second", "second reading", second_readings),
    WorkKind("rule", "chart", fired_rules, costly=True),
    WorkKind("due", "calibration", due_instruments),
    WorkKind("lot", "expires", expiring),
)
"""In the order in which they stand on the page."""


def work_rows(desk: Desk) -> Sequence[ListRow]:
    """Return all lines."""
    return [_row(kind, line) for kind, line in _lines(desk)]


def open_work(desk: Desk, key: str) -> ListDetail:
    """Open one line: why it waits, and what leads to the act."""
    for kind, line in _lines(desk, key.partition(" ")[0]):
        row = _row(kind, line)
        if row.key == key:
            about = (TermView(kind.title.capitalize(), line.beside),)
            lead = ActionView(LEAD, line.act, "Ctrl+O", primary=True)
            groups = (TermGroup("Waits", about), *line.groups)
            return ListDetail(row, groups, (lead,), fields={PAGE: line.page, PLACE: line.place})
    raise StationError("this line is done with.", where="Worklist", advice="Look at the others.")


def _lines(desk: Desk, only: str = "") -> Iterator[tuple[WorkKind, WorkLine]]:
    for kind in KINDS:
        if only in ("", kind.id):
            yield from ((kind, line) for line in _found(kind, desk))


def _found(kind: WorkKind, desk: Desk) -> Sequence[WorkLine]:
    if not kind.costly:
        return kind.find(desk)
    stands = _stands(desk)
    before = desk.kept.get(kind.id)
    if before is None or before[0] != stands:
        desk.kept[kind.id] = before = stands, kind.find(desk)
    return before[1]


def _stands(desk: Desk) -> object:
    """Return a value that is another one when something was filed or checked since."""
    filed = units_that(desk.store, Filters({By.STATE: ("filed",)}), limit=1)
    checks = [one.check for one in instruments_known(desk.store)]
    return desk.today, [row.unit_id for row in filed], checks


def _row(kind: WorkKind, line: WorkLine) -> ListRow:
    return ListRow(
        f"{kind.id} {line.subject}",
        line.title,
        tuple(part for part in (line.why,) if part),
        kind.title,
        line.tone,
        line.beside,
    )
