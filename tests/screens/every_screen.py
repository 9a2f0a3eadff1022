"""Every value that the window's pages show of a bench, and the texts and tones in them."""

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from benchstation.screens.model.elements import Tone
from benchstation.screens.service import Station

ROWS = {
    "people": "open_person",
    "day": "open_day_line",
    "settings": "open_settings",
    "settling": "open_settling",
    "worklist": "open_work",
    "materials": "open_store",
    "calibrations": "open_calibration",
}
"""What lists rows with a key, and what opens one."""
MOST_ENTRIES = 20
OTHERS = {
    "find_queue",
    "find_records",
    "open_record",
    "open_entry",
    "find_specifications",
    "open_specification",
    "view",
    "instruments",
    "alarms",
}
"""What shows something else; all are asked below."""


def every_page(station: Station) -> Iterator[tuple[str, Any]]:
    """Return what each page shows, with a name for each."""
    for lists, opens in ROWS.items():
        rows = getattr(station, lists)().result()
        yield lists, rows
        for row in rows:
            yield f"{lists} {row.key}", getattr(station, opens)(row.key).result()
    yield "queue", station.find_queue().result()
    records = station.find_records("").result()
    yield "records", records
    for row in records:
        yield f"record {row.serial}", station.open_record(row.unit_id).result()
    specifications = station.find_specifications().result()
    yield "specifications", specifications
    for row in specifications:
        yield f"specification {row.key}", station.open_specification(row.key, 0.5, "hot").result()
    yield "instruments", station.instruments()
    trail = station.audit("").result()
    yield "audit", trail
    for row in trail.rows[:MOST_ENTRIES]:
        yield f"entry {row.key}", station.open_entry(row.key).result()


def texts(value: object, path: str = "") -> Iterator[tuple[str, str]]:
    """Return every text in a value, with the way to it."""
    if isinstance(value, str):
        yield path, value
    elif is_dataclass(value) and not isinstance(value, type):
        for part in fields(value):
            yield from texts(getattr(value, part.name), f"{path}.{part.name}")
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from texts(inner, f"{path}.{name}")
    elif isinstance(value, tuple | list):
        for inner in value:
            yield from texts(inner, path)


def toned(value: object, path: str = "") -> Iterator[tuple[str, Tone, str]]:
    """Return every tone in a value, with the way to it and the texts that stand beside it."""
    if is_dataclass(value) and not isinstance(value, type):
        parts = {part.name: getattr(value, part.name) for part in fields(value)}
        for name, inner in parts.items():
            if isinstance(inner, Tone):
                said = [text for text in parts.values() if type(text) is str]
                yield f"{path}.{name}", inner, " | ".join(said)
            else:
                yield from toned(inner, f"{path}.{name}")
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from toned(inner, f"{path}.{name}")
    elif isinstance(value, tuple | list):
        found = next((one for one in value if isinstance(one, Tone)), None)
        if found is not None:
            yield path, found, " | ".join(one for one in value if type(one) is str)
        else:
            for inner in value:
                yield from toned(inner, path)
