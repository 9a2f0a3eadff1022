"""What the forms that receive something have in common: texts, last days and refusals."""

from datetime import date

from benchstation.domain.unit_commands import NotAllowedError

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


def last_day(typed: str, today: date, *, needed: bool) -> str:
    """Return the last day of use or of a calibration; raise for none and for one that is past.

    ``needed``: it is a calibration, without which nothing is received.
    """
    text = typed.strip()
    if not text and not needed:
        return ""
    try:
        until = date.fromisoformat(text)
    except ValueError as error:
        what = "the day until which it is calibrated" if needed else "the day of its expiry"
        raise refused(f"{what} is missing or no day.", "Type it as 2027-01-31.", "until") from error
    if until < today:
        over = "its calibration ran out" if needed else "it expired"
        raise refused(f"{over} on {until}.", "It is not received.", "until")
    return until.isoformat()


def refused(what: str, advice: str, field: str = "") -> NotAllowedError:
    """Return the refusal of what is received or closed."""
    return NotAllowedError(what, where=MATERIALS, advice=advice, field=field)
