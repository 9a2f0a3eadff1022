"""Setting a bench up: what a set-up says is held against the profiles, and put on record once.

Running it again with changes adds what is new: earlier facts stay in the journal.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchstation.config import set_up
from benchstation.config.set_up import SetUpError, refused
from benchstation.config.settings import InstrumentSettings, Settings, profile_folders
from benchstation.devices.profile import load_profile
from benchstation.domain.events import (
    Event,
    InstrumentRegistered,
    MaterialReceived,
    PersonEnrolled,
    SpecificationApproved,
)
from benchstation.domain.instrument_roles import InstrumentRole, role_of
from benchstation.domain.materials import Material
from benchstation.store.chain_store import ChainStore

SET_UP = "set-up"
"""Who founds a bench: nobody is on record before."""


def read_set_up(path: Path, known: Settings | None = None) -> tuple[Settings, list[Event]]:
    """Read and check a set-up file; gives the settings and the facts for the journal.

    ``known`` are the settings of a bench that is set up already: what is left out stays.
    """
    settings, events = set_up.read_set_up(path, known)
    _require_profiles(settings, str(path))
    return settings, events


def check_set_up(table: Mapping[str, Any], where: str) -> tuple[Settings, list[Event]]:
    """Check what a set-up says, given as plain data."""
    settings, events = set_up.check_set_up(table, where)
    _require_profiles(settings, where)
    return settings, events


def check_instrument(
    role: InstrumentRole, table: Mapping[str, Any], where: str
) -> tuple[InstrumentSettings, InstrumentRegistered]:
    """Check one of ``[instruments]`` alone."""
    settings, registered = set_up.check_instrument(role, table, where)
    _require_profile(role, settings.profile, where)
    return settings, registered


def _require_profiles(settings: Settings, where: str) -> None:
    for instrument in settings.instruments:
        _require_profile(instrument.role, instrument.profile, where)


def _require_profile(role: InstrumentRole, profile_id: str, where: str) -> None:
    profile = load_profile(profile_id, profile_folders())
    if role_of(profile.kind, profile.channel.reference) is not role:
        absolute = "absolute " if profile.channel.reference == "absolute" else ""
        raise refused(where, f"the {role}'s profile '{profile.id}' is for {absolute}{profile.kind}")


def write_set_up(store: ChainStore, events: list[Event]) -> int:
    """Found a bench: journal what is not on record yet, and give how many facts that were."""
    new = new_facts(store, events)
    if new:
        store.append(new, person=SET_UP, utc=datetime.now(UTC))
    return len(new)


def new_facts(store: ChainStore, events: Sequence[Event]) -> list[Event]:
    """Return what is not on record yet; raise for what is never changed by a file."""
    known = [e.event for e in store.entries()]
    # An instrument that comes back after another was in its place is a new fact.
    fitted = _newest_of_each_role(store, events)
    enrolled = {(e.person_id, e.name, e.roles) for e in known if isinstance(e, PersonEnrolled)}
    received = [e.material for e in known if isinstance(e, MaterialReceived)]
    new: list[Event] = []
    for event in events:
        if isinstance(event, PersonEnrolled):
            # A PIN's hash is salted, so a person counts as known by name and roles; what was
            # changed at the bench since is not taken back by the old file.
            if (event.person_id, event.name, event.roles) in enrolled:
                continue
        elif isinstance(event, MaterialReceived):
            if not _is_new(event.material, received):
                continue
        elif event in (fitted if isinstance(event, InstrumentRegistered) else known):
            continue
        if isinstance(event, InstrumentRegistered) and _has_newer(store, event):
            continue
        if isinstance(event, SpecificationApproved):
            _refuse_changed(store, event)
        new.append(event)
    return new


def _is_new(material: Material, received: Sequence[Material]) -> bool:
    """Return True when a material is not on record as the file has it; raise for a changed lot.

    What was withdrawn or calibrated anew at the bench since is not taken back by an old file.
    """
    same = [m for m in received if m.key == material.key]
    if any(replace(m, received_on=material.received_on) == material for m in same):
        return False
    if same and not material.sort.calibrated:
        raise SetUpError(
            "this lot is on record with other particulars; nothing was changed.",
            where=f"{material.sort} {material.lot}",
            advice="A lot is never changed: give the new one its own name.",
        )
    return all(m.until < material.until for m in same)


def _newest_of_each_role(store: ChainStore, events: Sequence[Event]) -> list[InstrumentRegistered]:
    """Return what was registered last of each role, as many as ``events`` has of it."""
    left = Counter(event.role for event in events if isinstance(event, InstrumentRegistered))
    found = []
    for registered in reversed(store.instruments().values()):
        if left[registered.role] > 0:
            left[registered.role] -= 1
            found.append(registered)
    return found


def _has_newer(store: ChainStore, event: InstrumentRegistered) -> bool:
    """Return True when a calibration that is newer than the file's is in force.

    An old file must not take back what was signed at the bench since.
    """
    known = store.instruments().get(event.instrument_id)
    fitted = known is not None and known.serial_number == event.serial_number
    return known is not None and fitted and known.calibrated_on > event.calibrated_on


def _refuse_changed(store: ChainStore, event: SpecificationApproved) -> None:
    old = store.specifications().get((event.specification_id, event.revision))
    if old is not None and old.content_sha256 != event.content_sha256:
        raise SetUpError(
            f"revision {event.revision} is on record with other content; nothing was changed.",
            where=event.specification_id,
            advice="A specification is never edited: give the new one a higher revision.",
        )
