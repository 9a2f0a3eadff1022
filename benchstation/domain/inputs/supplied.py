"""Whether what was chosen or scanned at a step is on record and may be used."""

from benchstation.domain.inputs.given import Given
from benchstation.domain.materials import Sort, Standing, Supplied
from benchstation.domain.refusals import NotAllowedError

CHOOSE = "Choose or scan one that is on record. Or receive it here with its source."
ANOTHER = "Take another one, or have a lead accept it as a deviation."


def supplied(given: Given, field: str, sort: Sort, number: str, lot: str) -> Supplied:
    """Return what is on record of a material that is used now.

    Raises when nothing is, or when it is expired, overdue, withdrawn or used up, unless a deviation
    was signed: then its standing says which.
    """
    stock, today = given.stock, given.today
    found = stock.find(sort, number, lot)
    standing = stock.standing(found, today)
    if standing is not Standing.OPEN and not given.accepted:
        what = f"{sort} {lot}" if sort.calibrated else f"lot {lot}"
        of = f" of {number}" if number else ""
        why = "is not on record" if found is None else stock.why_not(found, today)
        raise NotAllowedError(
            f"{what}{of} {why}.",
            where=given.title,
            advice=CHOOSE if found is None else ANOTHER,
            field=field,
        )
    return Supplied(found.supplier if found else "", found.until if found else "", standing)
