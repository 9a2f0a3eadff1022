"""What the journal says of a broken stream of readings."""

from benchstation.devices.instrument import Break, BreakKind
from benchstation.domain.statements import Code, Statement


def break_stated(broken: Break) -> Statement:
    """Return the statement that a broken stream is on record as."""
    match broken.kind:
        case BreakKind.NO_READING:
            return Statement.of(Code.NO_READING, seconds=round(broken.seconds, 1))
        case BreakKind.UNIT_CHANGED:
            return Statement.of(Code.UNIT_CHANGED, before=broken.before, after=broken.after)
        case BreakKind.CALIBRATED:
            return Statement(Code.CALIBRATED)
        case BreakKind.FAULT if broken.fault is not None:
            return Statement.of(Code.INSTRUMENT_FAULT, fault=broken.fault.value)
        case _:
            detail = {"detail": broken.detail} if broken.detail else {}
            return Statement.of(Code.LINE_LOST, **detail)
