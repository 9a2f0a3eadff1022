"""A lead signs with the PIN where no bench runs: at a set-up, and where records lack something."""

from datetime import datetime

from benchstation.bench.signed_in import AT_SET_UP, SignedIn
from benchstation.bench.staff import people_from
from benchstation.domain.events import PinRefused
from benchstation.domain.people import Person, Role
from benchstation.driver_api.errors import StationError
from benchstation.store.chain_store import ChainStore

UNCHANGED = "Nothing was changed."


class WrongPinError(StationError):
    """That was not the lead's PIN; ``fact`` says so for the record."""

    def __init__(self, lead: Person, fact: PinRefused) -> None:
        super().__init__(
            "that is not the PIN.", where=lead.name, advice=UNCHANGED, field="signature"
        )
        self.fact = fact


def lead_on_record(store: ChainStore, name: str) -> Person:
    """Return the lead of this id or name. Raises ``StationError``."""
    people = people_from(store)
    wanted = " ".join(name.split()).casefold()
    for person in people.values():
        if wanted in (person.person_id.casefold(), person.name.casefold()):
            if not person.left and person.has(Role.LEAD):
                return person
            break
    raise StationError(
        f"'{name}' is no lead of this bench.",
        advice=f"{UNCHANGED} Give a lead's name as it stands in the records.",
        field="person",
    )


def proven_lead(
    store: ChainStore, name: str, pin: str, utc: datetime, tries: SignedIn | None = None
) -> Person:
    """Return the lead whose PIN this is; raise in words, also while none is taken.

    ``tries`` are those so far where they cannot be on record yet.
    """
    lead, now = lead_on_record(store, name), utc.timestamp()
    tries = tries or SignedIn()
    if lead.person_id not in tries.tries:
        tries.remember(store, now, utc)
    if not tries.proves(lead, pin, lead.name, now):
        failures = tries.tries[lead.person_id].failures
        raise WrongPinError(lead, PinRefused(lead.person_id, AT_SET_UP, failures))
    return lead


def lead_signs(store: ChainStore, name: str, pin: str, utc: datetime) -> Person:
    """Return the lead whose PIN this is; a wrong one is put on record, and raised in words."""
    try:
        return proven_lead(store, name, pin, utc)
    except WrongPinError as error:
        store.append([error.fact], person=error.fact.person_id, utc=utc)
        raise
