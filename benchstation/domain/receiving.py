"""What is received: the rules for its texts, last day, mass and class, at a form or in a file."""

from dataclasses import dataclass
from datetime import date

from benchstation.domain.materials import Material, Sort
from benchstation.domain.refusals import NotAllowedError
from benchstation.metrology.check_weights import CLASSES, permissible_error

MATERIALS = "Materials"
LONGEST_LOT, LONGEST_WORDS = 64, 200
AT_HAND = {"open": "on the bench", "aside": "set aside"}


def printed(
    typed: str, called: str, field: str, longest: int = LONGEST_WORDS, *, needed: bool = True
) -> str:
    """Return a text with single blanks; raise for one that is missing or cannot be printed."""
    text = " ".join(typed.split())
    if (needed and not text) or not text.isprintable() or len(text) > longest:
        raise refused(
            f"the {called} is missing or cannot be printed.",
            f"Type it, up to {longest} characters.",
            field,
        )
    return text


def last_day(typed: str, *, needed: bool) -> str:
    """Return the last day of use or of a calibration; raise for none.

    ``needed``: it is a calibration, without which nothing is received.
    """
    text = typed.strip()
    if not text and not needed:
        return ""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as error:
        what = "the day until which it is calibrated" if needed else "the day of its expiry"
        raise refused(f"{what} is missing or no day.", "Type it as 2027-01-31.", "until") from error


def require_unexpired(until: str, today: date, *, calibrated: bool = False) -> None:
    """Raise when the last day of what is received now is past."""
    if until and date.fromisoformat(until) < today:
        over = "its calibration ran out" if calibrated else "it expired"
        raise refused(f"{over} on {until}.", "It is not received.", "until")


@dataclass(frozen=True, slots=True)
class Described:
    """A kit, part, wrench or weight as a person describes it, in a form or in the set-up file."""

    sort: Sort
    number: str
    lot: str
    name: str
    supplier: str
    until: str = ""
    certificate: str = ""
    nominal_kg: float | None = None
    weight_class: str = ""


def material_of(given: Described, today: date) -> Material:
    """Return the material that is described; raise for what is missing or cannot be."""
    sort = given.sort
    number = "" if sort.calibrated else printed(given.number, "number", "number")
    lot = printed(given.lot, "lot or id", "lot", LONGEST_LOT)
    name = printed(given.name, "name", "name")
    supplier = printed(given.supplier, "supplier or source", "supplier")
    until = last_day(given.until, needed=sort.calibrated)
    certificate = printed(given.certificate, "certificate", "certificate", needed=sort.calibrated)
    nominal, weight_class = None, ""
    if sort is Sort.WEIGHT:
        nominal, weight_class = _weight(given)
    elif given.nominal_kg is not None or given.weight_class:
        raise refused("only a check weight has a mass and a class.", "Leave both empty.", "nominal")
    received = today.isoformat()
    return Material(
        sort, number, lot, name, supplier, received, until, certificate, nominal, weight_class
    )


def _weight(given: Described) -> tuple[float, str]:
    nominal, chosen = given.nominal_kg, given.weight_class.strip().upper()
    if nominal is None:
        raise refused("the weight's nominal mass is missing.", "Such as 500 g.", "nominal")
    if chosen not in CLASSES:
        raise refused(
            "the weight's class is missing.",
            f"As its certificate has it: {', '.join(CLASSES)} (OIML R 111-1).",
            "weight_class",
        )
    if permissible_error(nominal, chosen) is None:
        raise refused(
            f"there is no weight of class {chosen} of this nominal mass.",
            "Nominal masses are 1, 2 or 5 times a power of ten (OIML R 111-1).",
            "nominal",
        )
    return nominal, chosen


def refused(what: str, advice: str, field: str = "") -> NotAllowedError:
    """Return the refusal of what is received or closed."""
    return NotAllowedError(what, where=MATERIALS, advice=advice, field=field)
