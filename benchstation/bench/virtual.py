"""Instruments that no device stands behind: on record when they come, and unfit on a real bench.

What makes a bench real is one rule: it was set up for work (``run_bench``). The demonstration and
the rehearsal are no real benches; there virtual devices measure, and each record says so.
"""

from collections.abc import Mapping

from benchstation.bench.session import BenchSession
from benchstation.domain.events import InstrumentVirtual, RebuildOpened
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.virtual_words import DEMONSTRATION
from benchstation.link.simulated import simulated
from benchstation.store.chain_store import ChainStore


def know_sources(session: BenchSession, urls: Mapping[str, str], *, real: bool) -> None:
    """Take note of what speaks on each instrument's line, and put on record what is no device."""
    session.work_for_real(real=real)
    for instrument_id, url in urls.items():
        found = simulated(url)
        know_source(
            session, instrument_id, (found.value if real else DEMONSTRATION) if found else ""
        )


def know_source(session: BenchSession, instrument_id: str, what: str) -> None:
    """Take note of what speaks in an instrument's place; empty: nothing says it is no device."""
    fitted = session.instruments.named(instrument_id)
    fitted.virtual, fitted.barred = what, bool(what) and session.real_bench
    if _known(session.store).get(instrument_id, "") != what:
        session.note(InstrumentVirtual(instrument_id, what))


def _known(store: ChainStore) -> dict[str, str]:
    return {
        entry.event.instrument_id: entry.event.what
        for entry in store.entries(kind=InstrumentVirtual.kind)
        if isinstance(entry.event, InstrumentVirtual)
    }


def virtual_during(store: ChainStore, rebuild: Rebuild) -> dict[str, str]:
    """Return what spoke in an instrument's place at any time since the unit was opened, by id."""
    found: dict[str, str] = {}
    opened = store.entries(unit_id=rebuild.unit_id, kind=RebuildOpened.kind)[0].seq
    for entry in store.entries(kind=InstrumentVirtual.kind):
        event = entry.event
        if not isinstance(event, InstrumentVirtual):
            continue
        if event.what or entry.seq < opened:
            found[event.instrument_id] = event.what
    return {name: what for name, what in found.items() if what}
