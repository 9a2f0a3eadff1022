"""Certificates that came from the shop for instruments that are fitted here."""

from dataclasses import fields, replace

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.commands.calibrating import noted, require_free, take_calibration
from benchstation.bench.in_doubt import held_in_words, hold_as_found
from benchstation.bench.session import BenchSession
from benchstation.domain.events import InstrumentRegistered
from benchstation.domain.shop_chain import subject_of
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.store.trust import SYSTEM

_OWN = ("instrument_id", "role", "title", "profile_id", "serial_number")
"""What an instrument is at this bench, whatever it is called elsewhere."""


def take_certificates(session: BenchSession) -> list[str]:
    """Correct by the certificates that are in force in the shop; gives a sentence for each.

    An instrument that is in use keeps its own until it is free.
    """
    told, shop = [], session.shop
    for fitted in [one for one in session.instruments if one.id in shop.certificates_due]:
        try:
            require_free(session, fitted)
        except NotAllowedError:
            continue
        shop.looked_at_certificate(fitted.id)
        registered = _in_force(session, fitted)
        if registered is not None:
            held = held_in_words(hold_as_found(session, registered))
            events = [registered, *noted(session, fitted, registered)]
            session.on_bench.journal(events, SYSTEM, session.clock.utc())
            take_calibration(session, fitted, registered)
            said = f"{registered.title}: certificate {registered.certificate} is in force."
            told.append(f"{said}{held}")
    return told


def _in_force(session: BenchSession, fitted: BenchInstrument) -> InstrumentRegistered | None:
    """Return the registration with the shop's certificate; ``None``: it is the one in use."""
    own = fitted.registered
    subject = subject_of(own)
    if subject is None:
        return None
    said = [fact.event for fact in session.store.facts_about(subject)]
    known = [event for event in said if isinstance(event, InstrumentRegistered)]
    if not known:
        return None
    certified = {f.name: getattr(known[-1], f.name) for f in fields(own) if f.name not in _OWN}
    there = replace(own, **certified)
    return there if there != own else None
