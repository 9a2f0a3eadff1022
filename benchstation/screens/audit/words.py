"""An entry of a journal in plain words: what happened, and what it says of it."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any

from benchstation.domain.disposition import plain_word, ruling_of
from benchstation.domain.duties import NOT_INDEPENDENT
from benchstation.domain.events import ChargeCaptured, Event, InRoomSince
from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.text import Written
from benchstation.domain.statement_words import GAS, worded
from benchstation.domain.statements import Gas, Statement
from benchstation.quantities.formatter import METRIC, QuantityFormatter, local_time
from benchstation.quantities.notation import significant

TITLES: Mapping[str, str] = {
    "air.read": "air read",
    "badge.salt": "salt of badges made",
    "bench.key": "key of the bench made",
    "bench.loss_accepted": "continued with records that lack entries",
    "bench.set_up_changed": "set-up of the bench changed",
    "bench.setting_changed": "setting changed",
    "charge.captured": "charge captured",
    "charge.hold_tested": "hold test",
    "day.line": "line of the start of the day",
    "gas.fell": "pressure fell",
    "gas.found": "gas found in the unit",
    "gas.read_again": "pressure read again",
    "gas.rose": "pressure rose",
    "gas.second_reading": "second reading judged",
    "gas.unit_weighed": "unit weighed",
    "gauge.zero": "zero of a gauge",
    "line.fell": "fill line vented",
    "oil.judged": "net oil judged",
    "paper.written": "paper or file written",
    "person.badge": "badge registered or dropped",
    "person.pin_refused": "PIN or badge refused",
    "person.prefers": "likes of a person changed",
    "person.qa_confirmed": "QA role confirmed",
    "person.search_saved": "search saved or removed",
    "recall.listed": "list of units written",
    "recall.notice": "notice given",
    "shop.taken": "news of the shop taken",
    "unit.disposed": "QA's word",
    "unit.hand_over_read": "note of the hand-over read",
    "unit.resumed": "program started again at the unit",
    "unit.in_room": "unit in the room since",
    "unit.learned_late": "learned late",
    "weigh.captured": "mass captured",
    "weigh.lot": "another lot chosen",
    "weigh.lot_confirmed": "lot confirmed",
    "weigh.method": "way of weighing chosen",
    "weigh.unweighed": "oil moved without being weighed",
}
"""Of kinds whose own name says it badly; the others are called as they are stored."""
_IDS = ("person_id", "acknowledged_by", "approved_by", "by")
_SAID = {
    "serial": "serial", "serial_number": "serial number", "family": "family", "lot": "lot",
    "oil_lot": "oil lot", "order": "order", "position": "position", "name": "name",
    "title": "title", "specification_id": "specification", "revision": "revision",
    "instrument_id": "instrument", "scale_id": "scale", "gauge_id": "gauge", "step_id": "step",
    "role": "role", "roles": "roles", "alarm": "alarm", "state": "state", "decision": "judged",
    "check": "check", "setting": "setting", "quantity": "of", "method": "way", "purpose": "of",
    "calibrated_until": "calibrated until", "until": "until", "due": "due", "due_utc": "from",
    "customer": "to", "package": "package", "complaint": "complaint", "field": "field",
    "caption": "caption", "told": "told", "question": "search", "units": "units", "how": "how",
    "where": "at", "tries": "wrong tries", "disposition": "QA", "what": "", "subject": "",
    "why": "", "found": "found", "doubt": "in doubt", "reason": "because", "note": "note",
    "gas": "gas", "passed": "", "before": "before", "after": "after", "old": "was", "new": "is",
    "bench": "bench", "person_id": "person", "acknowledged_by": "acknowledged by",
    "approved_by": "approved by", "by": "by", "line": "line",
}  # fmt: skip
"""What is said of an entry, by its field, in this order; what people write comes last."""


def _mass(words: QuantityFormatter, kg: float) -> str:
    return words.mass(kg, 2)


_FIGURES: Mapping[str, tuple[str, Callable[[QuantityFormatter, float], str]]] = {
    "settled_gauge_pa": ("settled at", QuantityFormatter.gauge),
    "gauge_pa": ("gauge shows", QuantityFormatter.gauge),
    "from_gauge_pa": ("from", QuantityFormatter.gauge),
    "to_gauge_pa": ("to", QuantityFormatter.gauge),
    "net_shown_kg": ("net", _mass),
    "shown_kg": ("scale shows", _mass),
    "leak_pa_m3_s": ("leak", QuantityFormatter.leak),
    "rate_pa_m3_s": ("leak", QuantityFormatter.leak),
    "value_k": ("", QuantityFormatter.temperature),
}
"""The figure that an entry is about, by its field."""


def title_of(kind: str) -> str:
    """Return what a kind of entry is called."""
    return TITLES.get(kind) or kind.replace(".", " ").replace("_", " ")


def details(
    event: Event, names: Mapping[str, str], words: QuantityFormatter = METRIC
) -> Iterator[tuple[str, str]]:
    """Return what an entry says: the figure it is of, and the words; the rest is in the record."""
    own = {field.name: getattr(event, field.name) for field in fields(event)}
    if isinstance(event, ChargeCaptured):
        del own["gauge_pa"]  # it was still on its way to the pressure that was judged
    for name, (label, said) in _FIGURES.items():
        if isinstance(value := own.get(name), float):
            yield label, said(words, value)
    if isinstance(event, InRoomSince):
        yield "", _moment(event.since)
    for name, label in _SAID.items():
        text = _words(name, own.get(name), names)
        if text:
            yield label, text
    for result in own.get("evidence", ()):
        if isinstance(result, Noted | Written):
            yield result.label, result.text


def _moment(utc: str) -> str:
    """Return a moment as the people of this place read it; what is none stays as it stands."""
    try:
        return local_time(datetime.fromisoformat(utc))
    except ValueError:
        return " ".join(utc.split())


def sentence(event: Event, names: Mapping[str, str], words: QuantityFormatter = METRIC) -> str:
    """Return the details in a line."""
    return ", ".join(f"{label} {text}".strip() for label, text in details(event, names, words))


def _words(name: str, value: Any, names: Mapping[str, str]) -> str:
    if isinstance(value, Statement):
        return worded(value)
    if isinstance(value, Gas):
        return GAS[value]
    if isinstance(value, bool):
        return ("passed" if value else "FAILED") if name == "passed" else ""
    if isinstance(value, tuple | list):
        return " and ".join(part for part in value if isinstance(part, str))
    if name in _IDS and isinstance(value, str):
        plain = plain_word(value)
        return names.get(plain, plain) + (f", {NOT_INDEPENDENT}" if plain != value else "")
    if name in ("old", "new") and isinstance(value, float):
        return f"{significant(value, 6)} in SI units"
    if name == "disposition" and value:
        return ruling_of(value).value
    if isinstance(value, str | int | float):
        return " ".join(str(value).split())
    return ""
