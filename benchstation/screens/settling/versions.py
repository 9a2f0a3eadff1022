"""What was said of one of the shop's things, in terms: two versions can be laid side by side."""

from collections.abc import Callable, Mapping
from typing import Any

from benchstation.domain.events import (
    BadgeRegistered,
    Event,
    InstrumentRegistered,
    MaterialClosed,
    MaterialReceived,
    OilLotClosed,
    OilLotReceived,
    OrderChanged,
    OrderPlaced,
    OrderUnitWithdrawn,
    PersonEnrolled,
    PersonLeft,
    RebuildOpened,
    ReleaseRuleSet,
    Settled,
    SpecificationApproved,
    SpecificationDrafted,
    UnitAmended,
    UnitDisposed,
)
from benchstation.domain.people import Role
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.bench.task import role_words
from benchstation.screens.model.elements import TermView

Terms = tuple[TermView, ...]


def title_of(event: Event) -> str:
    """Return what an event is about, as a list names it."""
    match event:
        case PersonEnrolled():
            return event.name
        case PersonLeft() | BadgeRegistered():
            return event.person_id
        case OilLotReceived() | OilLotClosed():
            return f"Oil lot {event.lot}"
        case MaterialReceived():
            return f"{event.material.sort.value.capitalize()} {event.material.lot}"
        case MaterialClosed():
            return f"{event.sort.capitalize()} {event.lot}"
        case SpecificationApproved() | SpecificationDrafted():
            return f"{event.specification_id}, revision {event.revision}"
        case InstrumentRegistered():
            return f"{event.title}, serial number {event.serial_number}"
        case OrderPlaced() | OrderChanged() | OrderUnitWithdrawn():
            return f"Order {event.order}"
        case RebuildOpened():
            return f"Unit for order {event.order}"
        case ReleaseRuleSet():
            return "How many release a unit"
        case UnitAmended():
            return "Amendment of a record"
        case _:
            return "QA's word on a unit"


def kind_of(event: Event) -> str:
    """Return in a few words what was done."""
    match event:
        case BadgeRegistered():
            return "badge registered" if event.badge_hash else "badge dropped"
        case OilLotClosed() | MaterialClosed():
            return str(event.why)
        case UnitDisposed():
            return event.disposition
        case ReleaseRuleSet():
            return "two signatures" if event.signatures > 1 else "one signature"
        case Settled():
            return "settled before"
        case _:
            return _KINDS[type(event)]


_KINDS: Mapping[type[Event], str] = {
    PersonEnrolled: "enrolled",
    PersonLeft: "left",
    OilLotReceived: "received",
    MaterialReceived: "received",
    SpecificationApproved: "approved",
    SpecificationDrafted: "drafted",
    InstrumentRegistered: "calibrated",
    OrderPlaced: "placed",
    OrderChanged: "changed",
    OrderUnitWithdrawn: "unit withdrawn",
    RebuildOpened: "started",
    UnitAmended: "amended",
}


def terms_of(event: Event, words: QuantityFormatter) -> Terms:
    """Return what an event says, figure by figure."""
    given = _GIVEN.get(type(event))
    return given(event, words) if given is not None else _reason(event)


def _reason(event: Event) -> Terms:
    reason = str(getattr(event, "reason", ""))
    return (TermView("Reason", reason),) if reason else ()


def _person(event: Any, words: QuantityFormatter) -> Terms:
    roles = role_words(frozenset(Role(role) for role in event.roles))
    return (
        TermView("Roles", roles or "none"),
        TermView("PIN", "set" if event.pin_hash else "none", "each is kept as a salted slow hash"),
    )


def _lot(event: Any, words: QuantityFormatter) -> Terms:
    return (
        TermView("Oil", event.oil),
        TermView(
            f"Density at {words.oil_base}",
            words.density(event.rho15_kg_m3),
            event.source,
            strong=True,
        ),
        TermView("Supplier", event.supplier or "not stated"),
        TermView("Use until", event.until or "not stated"),
    )


def _amendment(event: Any, words: QuantityFormatter) -> Terms:
    return (
        TermView("Field", event.field),
        TermView("It stood there, SI", str(event.old)),
        TermView("Now, SI", str(event.new), strong=True),
        TermView("Reason", event.reason),
        TermView("Approved by", event.approved_by),
    )


def _material(event: Any, words: QuantityFormatter) -> Terms:
    material = event.material
    return (
        TermView("Name", material.name),
        TermView("Supplier", material.supplier),
        TermView("Received", material.received_on),
        TermView("Until", material.until or "not stated", material.certificate),
    )


def _approved(event: Any, words: QuantityFormatter) -> Terms:
    return (
        TermView("Title", event.title),
        TermView("Family", event.family),
        TermView("Content", f"{event.content_sha256[:16]}…", "its SHA-256"),
    )


def _drafted(event: Any, words: QuantityFormatter) -> Terms:
    return (TermView("Content", f"{event.content_sha256[:16]}…", "its SHA-256"),)


def _instrument(event: Any, words: QuantityFormatter) -> Terms:
    return (
        TermView("Certificate", event.certificate, strong=True),
        TermView("Calibrated", event.calibrated_on),
        TermView("Until", event.calibrated_until),
    )


def _order(event: Any, words: QuantityFormatter) -> Terms:
    units = f"{len(event.lines)} unit{'s' * (len(event.lines) != 1)}"
    return (
        TermView("Units", units, "a set" if event.matched else ""),
        TermView("Due", event.due or "no day"),
        TermView("Note", event.note or "none"),
    )


def _opened(event: Any, words: QuantityFormatter) -> Terms:
    return (
        TermView("Serial", event.serial, strong=True),
        TermView("Built on", f"{event.specification_id}, revision {event.revision}"),
        TermView("Oil lot", event.oil_lot),
        TermView("Position", event.position or "none"),
    )


_GIVEN: Mapping[type[Event], Callable[[Any, QuantityFormatter], Terms]] = {
    PersonEnrolled: _person,
    OilLotReceived: _lot,
    MaterialReceived: _material,
    SpecificationApproved: _approved,
    SpecificationDrafted: _drafted,
    InstrumentRegistered: _instrument,
    OrderPlaced: _order,
    OrderChanged: _order,
    RebuildOpened: _opened,
    UnitAmended: _amendment,
}
