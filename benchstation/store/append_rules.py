"""What may follow what is on record: the journal takes no event that contradicts it."""

from sqlalchemy import Connection, bindparam, select

from benchstation.domain.disposition import ABOUT_UNITS
from benchstation.domain.events import (
    Event,
    OrderChanged,
    OrderPlaced,
    OrderUnitWithdrawn,
    RebuildAbandoned,
    RebuildOpened,
    RecordShown,
    ReleaseRuleSet,
    SpecificationApproved,
    UnitEvent,
    UnitFetched,
    UnitFiled,
)
from benchstation.domain.orders import STARTABLE
from benchstation.store import after_filing_rules
from benchstation.store.errors import NotInOrderError
from benchstation.store.schema import order_line, shop_order, specification, unit

_OWN = unit.c.bench == bindparam("own")
_STATE = select(unit.c.state).where(_OWN, unit.c.unit_id == bindparam("this"))
_OPEN = select(unit.c.unit_id, unit.c.serial).where(_OWN, unit.c.state == "open")
_SHA256 = select(specification.c.content_sha256).where(
    specification.c.bench == bindparam("own"),
    specification.c.specification_id == bindparam("this"),
    specification.c.revision == bindparam("number"),
)
_ORDER = select(shop_order.c.order).where(
    shop_order.c.bench == bindparam("own"), shop_order.c.order == bindparam("this")
)
_LINE = select(order_line.c.state).where(
    order_line.c.bench == bindparam("own"), order_line.c.line == bindparam("this")
)
_OF_FILED = (*ABOUT_UNITS, RecordShown, ReleaseRuleSet)
_WORDS = {"filed": "is filed already", "abandoned": "was abandoned"}


def admit(connection: Connection, bench: str, event: Event, person: str, where: str) -> None:
    """Accept an event that a person brings at a bench, or raise :class:`NotInOrderError`.

    Earlier events are projected. What other benches did in the same database does not count.
    """
    match event:
        case RebuildOpened():
            _opening(connection, bench, event, where)
        case _ if isinstance(event, _OF_FILED):
            after_filing_rules.admit(connection, bench, event, person, where)
        case UnitFetched():
            _fetching(connection, bench, event, where)
        case UnitEvent():
            _going_on(connection, bench, event, where)
        case OrderPlaced() | OrderChanged():
            there = (
                connection.execute(_ORDER, {"own": bench, "this": event.order}).first() is not None
            )
            if there is isinstance(event, OrderPlaced):
                word = "an" if there else "no"
                raise _refused(f"there is {word} order {event.order} on record.", where)
        case OrderUnitWithdrawn():
            _startable(connection, bench, event.line, where)
        case SpecificationApproved():
            _approval(connection, bench, event, where)


def open_unit(connection: Connection, bench: str) -> str | None:
    """Return the unit on a bench."""
    return connection.execute(_OPEN, {"own": bench}).scalar()


def _state(connection: Connection, bench: str, unit_id: str) -> str | None:
    return connection.execute(_STATE, {"own": bench, "this": unit_id}).scalar()


def _opening(connection: Connection, bench: str, event: RebuildOpened, where: str) -> None:
    if _state(connection, bench, event.unit_id) is not None:
        raise _refused(f"the rebuild {event.unit_id} was opened before.", where)
    other = connection.execute(_OPEN, {"own": bench}).first()
    if other is not None:
        raise _refused(f"{other.serial} is still on the bench.", where, "File or abandon it first.")
    if event.line:
        _startable(connection, bench, event.line, where)


def _startable(connection: Connection, bench: str, line: str, where: str) -> None:
    state = connection.execute(_LINE, {"own": bench, "this": line}).scalar()
    if state is None:
        raise _refused("this unit stands in no order.", where)
    if state not in STARTABLE:
        raise _refused(f"this unit of the order is {state}.", where)


def _fetching(connection: Connection, bench: str, event: UnitFetched, where: str) -> None:
    if _state(connection, bench, event.unit_id) != "aside":
        raise _refused("only a unit that is set aside can be fetched.", where)
    other = connection.execute(_OPEN, {"own": bench}).first()
    if other is not None:
        advice = "File it or set it aside first."
        raise _refused(f"{other.serial} is still on the bench.", where, advice)


def _going_on(connection: Connection, bench: str, event: UnitEvent, where: str) -> None:
    state = _state(connection, bench, event.unit_id)
    if state == "open":
        return
    if state is None:
        raise _refused(f"the rebuild {event.unit_id} was never opened.", where)
    if state == "aside":
        raise _refused("the unit is set aside.", where, "Nothing was added; fetch it first.")
    twice = isinstance(event, UnitFiled | RebuildAbandoned)
    advice = "a unit is ended once." if twice else "work on it again is a new rebuild."
    raise _refused(f"the unit {_WORDS[state]}.", where, f"Nothing was added; {advice}")


def _approval(connection: Connection, bench: str, event: SpecificationApproved, where: str) -> None:
    this = {"own": bench, "this": event.specification_id, "number": event.revision}
    sha256 = connection.execute(_SHA256, this).scalar()
    if sha256 not in (None, event.content_sha256):
        raise _refused(
            f"revision {event.revision} of {event.specification_id} has other content on record.",
            where,
            "Approve the change as the next revision.",
        )


def _refused(what: str, where: str, advice: str = "Nothing was added.") -> NotInOrderError:
    return NotInOrderError(what, where=where, advice=advice)
