"""A search of the records that names an instrument: which one, and what it finds."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from benchstation.domain.events import InstrumentRegistered
from benchstation.domain.serials import look_alike
from benchstation.quantities.formatter import local_time
from benchstation.screens.model.records import SINCE
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry
from benchstation.store.queries import MOST, count_with_instrument
from benchstation.store.recall import Doubt, benches_with, count_in, doubt_about
from benchstation.store.search import Match

LEAST_LETTERS = 3


@dataclass(frozen=True, slots=True)
class Named:
    """What a search says of instruments: those it names, and whether all units of them count."""

    words: str
    instruments: Sequence[InstrumentRegistered]
    since: bool
    match: Match = Match.BEGINS


def named_in(store: ChainStore, text: str) -> Named:
    """Return the instruments that a search names by id, serial number or title, whole or beginning.

    Only the beginning counts, since every unit rests on a scale and a gauge: a part of a serial
    that happens to stand in the middle of theirs would find all.
    """
    words = text.strip()
    since = words.casefold().endswith(SINCE.strip()) and len(words) > len(SINCE.strip())
    if since:
        words = words[: -len(SINCE.strip())].strip()
    known = words.casefold()
    if len(known) < LEAST_LETTERS:
        return Named(words, (), since)
    newest: dict[str, InstrumentRegistered] = {}
    # By every name it ever had on record; the newest says what it is.
    names: dict[str, set[str]] = {}
    for entry in store.entries(kind=InstrumentRegistered.kind):
        i = entry.event
        assert isinstance(i, InstrumentRegistered)
        newest[i.instrument_id] = i
        names.setdefault(i.instrument_id, set()).update(
            name.casefold() for name in (i.instrument_id, i.serial_number, i.title)
        )
    whole = [key for key, called in names.items() if known in called]
    begun = [key for key, called in names.items() if any(n.startswith(known) for n in called)]
    match = Match.EXACT if whole else Match.BEGINS
    return Named(words, [newest[key] for key in whole or begun], since, match)


def about(store: ChainStore, text: str) -> str:
    """Return which instruments a search names, how many units rest on each, and since when."""
    if problem := look_alike(text):
        return f"This cannot be a serial: it {problem}."
    named = named_in(store, text)
    return "\n".join(line for one in named.instruments for line in _about(store, one, named.since))


def _about(store: ChainStore, one: InstrumentRegistered, since: bool) -> Iterator[str]:
    who = f"{one.title} ({one.instrument_id}, serial number {one.serial_number or '-'})"
    if not since:
        yield f"{units_in_words(count_with_instrument(store, one.instrument_id))} on {who}."
        return
    benches = benches_with(store, one.instrument_id)
    for bench in benches:
        doubt = doubt_about(store, one.instrument_id, bench)
        count = count_in(store, one.instrument_id, doubt, bench)
        # Each bench checks it for itself.
        place = f" at {bench}" if benches != [store.bench] else ""
        yield f"{units_in_words(count)} on {who}{place} {_when(doubt)}."


def units_in_words(count: int) -> str:
    """Return how many units rest on something, as the beginning of a sentence."""
    if count > MOST:
        return f"More than {MOST:,} units rest"
    return "One unit rests" if count == 1 else f"{count or 'No'} units rest"


def _when(doubt: Doubt) -> str:
    if doubt.good is None:
        said = "with no good check on record before"
    else:
        said = f"since its last good check, {_time(doubt.good)}"
    if doubt.failed is None:
        return said if doubt.good else "with no good check on record"
    said += f"; it failed {_time(doubt.failed)}"
    return f"{said}, and was good again {_time(doubt.again)}" if doubt.again else said


def _time(entry: Entry) -> str:
    return local_time(entry.utc)
