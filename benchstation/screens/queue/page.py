"""Answers the Queue page through the store's own read connection."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path

from benchstation.bench.sets import sets_of
from benchstation.domain.inputs.given import YES
from benchstation.domain.order_lists import MOST_BYTES, events_of, read_units, text_of
from benchstation.domain.orders import POSITIONS, STARTABLE, Line, LineState, Order
from benchstation.domain.shop_chain import SHOP
from benchstation.domain.specification import Specification
from benchstation.domain.statement_words import GAS
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter, day_of, local_time
from benchstation.screens.bench.matching import set_view
from benchstation.screens.model.elements import FieldKind, FieldView, Tone
from benchstation.screens.model.queue import QueueOrder, QueueRow, QueueView, UnitsRead
from benchstation.store.chain_store import ChainStore
from benchstation.store.order_queries import BenchUnit, find_orders, get_order, units_at_hand

_LYING = (LineState.ASIDE, LineState.SECOND)
SHOWN_AFTER_DONE = timedelta(days=1)
_TONE = {
    LineState.WAITING: Tone.QUIET,
    LineState.STARTED: Tone.MANDATORY,
    LineState.ASIDE: Tone.CAUTION,
    LineState.SECOND: Tone.CAUTION,
    LineState.FILED: Tone.NORMAL,
    LineState.HELD: Tone.CAUTION,
    LineState.RELEASED: Tone.NORMAL,
    LineState.REJECTED: Tone.DANGER,
    LineState.WITHDRAWN: Tone.QUIET,
}


@dataclass(frozen=True, slots=True)
class Queue:
    """Answers the page. Every method may take a while and is called in one thread."""

    store: ChainStore
    specifications: Callable[[], Sequence[Specification]]
    now: Callable[[], datetime]

    def find(self, words: QuantityFormatter) -> QueueView:
        """Return all that waits, is worked, was filed lately or is on hold."""
        now, specifications = self.now(), self.specifications()
        families = {s.id: s.family for s in specifications}
        orders = find_orders(self.store, now - SHOWN_AFTER_DONE)
        at_hand = units_at_hand(self.store)
        lying = {unit.unit_id: unit for unit in at_hand if unit.gas}
        rows = [_row(order, line, families, lying, now) for order in orders for line in order.lines]
        listed = {row.unit_id for row in rows}
        alone = [unit for unit in at_hand if unit.unit_id not in listed]
        whole = self.store.bench == SHOP
        rows = [*(_alone(unit, now, at=unit.bench if whole else "") for unit in alone), *rows]
        details = {
            order.order: QueueOrder(
                order.order,
                _title(order),
                order.note,
                tuple(
                    set_view(found, words) for found in sets_of(self.store, order, specifications)
                ),
                _change_form(order),
            )
            for order in orders
        }
        forms = {count: _form(count, families) for count in POSITIONS}
        return QueueView(tuple(rows), details, forms, _said(rows))

    def read(self, path: Path) -> UnitsRead:
        """Read a list of units and say what it holds. Raises ``StationError``."""
        try:
            with path.open("rb") as file:
                data = file.read(MOST_BYTES + 1)
        except (OSError, ValueError) as error:
            raise StationError(
                "the list cannot be read.",
                where=str(path),
                advice="Check the path; it must be a CSV file that you may read.",
                detail=repr(error),
            ) from error
        text = text_of(data)
        specifications = self.specifications()
        units = read_units(text, specifications)
        # The very rules of the import: what is said to be in order here is imported then.
        events_of(units, partial(get_order, self.store), [s.id for s in specifications])
        by_order = units.by_order()
        said = f"{len(units.rows)} units in {len(by_order)} orders are in order."
        lines = tuple(
            f"{name}: "
            + ", ".join(f"{u.serial or 'to be scanned'} {u.position}".strip() for u in wanted)
            for name, wanted in by_order.items()
        )
        return UnitsRead(text, said, lines)


def _row(
    order: Order,
    line: Line,
    families: Mapping[str, str],
    lying: Mapping[str, BenchUnit],
    now: datetime,
) -> QueueRow:
    late = bool(order.due) and date.fromisoformat(order.due) < day_of(now)
    open_still = line.state in (*STARTABLE, LineState.STARTED, *_LYING)
    units = sum(1 for other in order.lines if other.state is not LineState.WITHDRAWN)
    said = [line.reason]
    if line.unit_id in lying:
        said += _lies(lying[line.unit_id], now)
    return QueueRow(
        line.line,
        line.unit_id,
        order.order,
        line.serial,
        line.position,
        families.get(line.specification_id, line.specification_id),
        order.due,
        late and open_still,
        f"set of {units}" if order.matched else "",
        line.state.value,
        "; ".join(part for part in said if part),
        _TONE[line.state],
    )


def _lies(unit: BenchUnit, now: datetime) -> list[str]:
    """Return what is known of the gas in a unit that lies aside, and from when it is read again."""
    gas = f"gas {GAS[unit.gas]}" if unit.gas else ""
    if not unit.due_utc:
        return [gas]
    due = datetime.fromisoformat(unit.due_utc)
    return ["waited, due now" if due <= now else f"waits until {local_time(due)}", gas]


def _alone(unit: BenchUnit, now: datetime, *, at: str) -> QueueRow:
    """Return the row of a unit that stands in no order; ``at`` names its bench in a whole shop."""
    state = LineState.ASIDE if unit.state == "aside" else LineState.STARTED
    if unit.due_utc:
        state = LineState.SECOND
    said = "; ".join(part for part in (at, unit.reason, *_lies(unit, now)) if part)
    return QueueRow(
        "",
        unit.unit_id,
        unit.order,
        unit.serial,
        unit.position,
        unit.family,
        "",
        False,
        "",
        state.value,
        said,
        _TONE[state],
    )


def _title(order: Order) -> str:
    due = f", due {order.due}" if order.due else ""
    return f"Order {order.order}{due}"


def _said(rows: Sequence[QueueRow]) -> str:
    counts = {state: sum(1 for row in rows if row.state == state.value) for state in LineState}
    late = sum(1 for row in rows if row.late)
    parts = [f"{count} {state.value}" for state, count in counts.items() if count]
    return ", ".join([*parts, *([f"{late} overdue"] if late else [])])


def _change_form(order: Order) -> tuple[FieldView, ...]:
    return (
        FieldView("due", "Due", FieldKind.TEXT, order.due, "2026-03-31, or empty"),
        FieldView("note", "Note", FieldKind.TEXT, order.note),
        FieldView(
            "matched",
            "Its units are a set that must match",
            FieldKind.CHECK,
            YES if order.matched else "",
        ),
        FieldView("reason", "Why it changes", FieldKind.TEXT, hint="stays on record"),
    )


def _form(count: int, families: Mapping[str, str]) -> tuple[FieldView, ...]:
    choices = tuple(families.items())
    fields = [
        FieldView("order", "Order", FieldKind.TEXT, hint="its name, such as A-1204"),
        FieldView("due", "Due", FieldKind.TEXT, hint="2026-03-31, or empty"),
        FieldView("family", "Family", FieldKind.CHOICE, choices=choices),
    ]
    if count == max(POSITIONS):
        hint = "empty: the same as in front"
        rear = FieldView("rear_family", "Family, rear", FieldKind.CHOICE, "", hint, choices)
        fields.append(rear)
    fields.append(FieldView("note", "Note", FieldKind.TEXT, hint="may stay empty"))
    for n, position in enumerate(POSITIONS[count], 1):
        fields.append(FieldView(f"position{n}", f"Position {n}", FieldKind.TEXT, position))
        hint = "empty: scanned when it is started"
        fields.append(FieldView(f"serial{n}", f"Serial {n}", FieldKind.TEXT, hint=hint))
    if count > 1:
        words = "Its units are a set that must match"
        fields.append(FieldView("matched", words, FieldKind.CHECK, YES))
    return tuple(fields)
