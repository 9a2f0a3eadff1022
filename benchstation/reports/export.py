"""A filed unit's record as JSON for other programs: SI values, traces and proof included.

The form is documented in ``resources/schemas``. Where the bench's key is here it signs the whole,
each trace by its SHA-256, so that nothing of it can be changed unseen.
"""

import base64
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import rfc8785

from benchstation.atomic_file import part_of, put_in_place
from benchstation.domain.amending import ORDER, POSITION, SERIAL
from benchstation.domain.disposition import (
    Amendment,
    Course,
    Disposition,
    Return,
    Shipment,
    Superseded,
    verdict_in,
)
from benchstation.domain.events import UnitFiled
from benchstation.domain.inputs.zero import FILL_LINE, ZeroRead
from benchstation.domain.matching import charge_at_reference, share_at_reference
from benchstation.domain.recorded_inputs import photos_in
from benchstation.domain.unit_record import RecordedCharge, UnitRecord, record_in
from benchstation.driver_api.errors import StationError
from benchstation.store.bench_key import BenchKey
from benchstation.store.chain_store import ChainStore
from benchstation.store.entry_proof import EntryProof
from benchstation.store.errors import NotOnRecordError
from benchstation.store.journal import Entry
from benchstation.store.traces import Trace
from benchstation.store.words_on_units import disposition_of

FORM = 4
"""The form of the exported JSON, raised when a key changes its meaning; form 1 names none."""
SCHEMA = f"exported-record-{FORM}.schema.json"
PURPOSE = "benchstation exported record 1"
"""Within what is signed, so that the signature can stand for nothing else."""


@dataclass(frozen=True, slots=True)
class FiledRecord:
    """A record with what proves it: the journal entry that filed it, and its content by SHA-256.

    A photograph that is missing or damaged in the records is ``None``.
    """

    record: UnitRecord
    entry: Entry
    disposition: Disposition
    """What QA said of it since, and up to which entry that is told."""
    traces: Mapping[str, Trace]
    photos: Mapping[str, bytes | None] = field(default_factory=dict)
    proof: EntryProof | None = None
    """That the entry is in the bench's journal, where a head was signed since."""
    key: BenchKey | None = field(default=None, repr=False)
    """Signs what is written of it; ``None``: no key is here."""

    @property
    def sha256(self) -> str:
        """Return SHA-256 of the record's canonical JSON (RFC 8785)."""
        return hashlib.sha256(rfc8785.dumps(self.record.as_json())).hexdigest()

    @property
    def serial(self) -> str:
        """Return the unit's serial as it was amended last; the record has that of its filing."""
        return self.disposition.named(SERIAL, self.record.serial)

    @property
    def decision(self) -> str:
        """Return the verdict since what was amended; the record has that of its filing."""
        return verdict_in(Course(failing=self.disposition.failing), self.record.decision)

    @property
    def place(self) -> tuple[str, str]:
        """Return order and position as they were amended last."""
        said, record = self.disposition.named, self.record
        return said(ORDER, record.order), said(POSITION, record.position)

    def trace(self, name: str) -> Trace | None:
        """Return the trace of ``pour``, ``bleed``, ``charge`` or ``hold``, if there is one."""
        return self.traces.get(trace_names(self.record).get(name, ""))


def trace_names(record: UnitRecord) -> dict[str, str]:
    """Return the SHA-256 of each trace that a record names; the last capture of a kind counts.

    Where oil came from several lots there is ``pour LOT`` for each beside ``pour``, the last.
    """
    captures = record.oil.captures
    several = len(record.oil.lots) > 1
    names = {
        f"{c.purpose} {c.lot}": c.trace_sha256 for c in captures if several and c.lot and c.counts
    }
    names |= {c.purpose: c.trace_sha256 for c in captures}
    names["charge"] = record.charge.trace_sha256
    names["hold"] = record.hold.trace_sha256
    zeros = [r for s in record.steps for r in s.evidence if isinstance(r, ZeroRead)]
    seen = [r for r in zeros if r.trace_sha256]
    names |= {"line" if r.label == FILL_LINE else "release": r.trace_sha256 for r in seen}
    return names


def filed_record(
    store: ChainStore, unit_id: str, told_to: int | None = None, until: datetime | None = None
) -> FiledRecord:
    """Read a filed unit's record; raises :class:`NotOnRecordError` for any other unit.

    ``told_to``: as it was known here up to that entry of the own chain; ``until``: see
    :func:`disposition_of`.
    """
    for entry in reversed(store.entries(unit_id=unit_id)):
        if isinstance(entry.event, UnitFiled):
            record = record_in(entry.event.record)
            hashes = set(trace_names(record).values()) - {""}
            traces = {h: store.get_trace(h) for h in hashes}
            held = entry.event.qa_hold
            said = disposition_of(store, unit_id, qa_hold=held, told_to=told_to, until=until)
            photos, proof = _photos(store, record), store.proof(entry)
            key = store.trust.key if store.trust is not None else None
            return FiledRecord(record, entry, said, traces, photos, proof, key)
    raise NotOnRecordError(
        "this unit is not filed, so there is no record of it.",
        advice="It is on the bench still, or was abandoned; its journal is kept.",
    )


def _photos(store: ChainStore, record: UnitRecord) -> dict[str, bytes | None]:
    """Read a record's photographs; the rest of it can be read without one that is gone."""
    found: dict[str, bytes | None] = {}
    for _, picture in photos_in(record):
        try:
            found[picture.sha256] = store.get_photo(picture.sha256)
        except StationError:
            found[picture.sha256] = None
    return found


def as_json(filed: FiledRecord) -> dict[str, Any]:
    """Return the whole as JSON-ready data, not signed."""
    entry = filed.entry
    proven = {} if filed.proof is None else {"proof": filed.proof.as_json()}
    return {
        "form": FORM,
        "schema": SCHEMA,
        "record": filed.record.as_json(),
        "record_sha256": filed.sha256,
        "journal": {"bench": entry.bench, "entry": entry.seq, "hash": entry.hash},
        "charge_at_reference": _at_reference(filed.record.charge),
        **proven,
        "standing": _standing(filed.disposition),
        "photos": [
            {
                **asdict(picture),
                "step": title,
                "on_record": filed.photos.get(picture.sha256) is not None,
            }
            for title, picture in photos_in(filed.record)
        ],
        "traces": {
            name: _trace(filed.traces[sha256])
            for name, sha256 in trace_names(filed.record).items()
            if sha256 in filed.traces
        },
    }


def signed_json(filed: FiledRecord, paper: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Return the whole as JSON-ready data, signed where a key is here.

    ``paper``: of which paper it is a part, and the hash of that paper's pages.
    """
    data = {**as_json(filed), **({} if paper is None else {"paper": dict(paper)})}
    if filed.key is not None:
        signature = filed.key.signature_over(signed_bytes(data))
        data["signature"] = {"public_key": filed.key.public, "signature": signature}
    return data


def signed_bytes(data: Mapping[str, Any]) -> bytes:
    """Return what a signature is over: canonical JSON of all but itself, traces by SHA-256.

    Raises ``KeyError``, ``TypeError`` and rfc8785's errors for data that are no exported record.
    """
    rest = {name: value for name, value in data.items() if name != "signature"}
    traces = {name: trace["sha256"] for name, trace in data["traces"].items()}
    return rfc8785.dumps({**rest, "traces": traces, "purpose": PURPOSE})


def _at_reference(charge: RecordedCharge) -> dict[str, float]:
    """Return the charge at the specification's reference temperature, as label and paper say it."""
    return {
        "gauge_pa": charge_at_reference(charge),
        "expanded_pa": charge.expanded_pa * share_at_reference(charge),
        "coverage_factor": charge.coverage_factor,
        "temperature_k": charge.terms.reference_k,
        "ambient_pa": charge.terms.reference_ambient_pa,
    }


def _standing(said: Disposition) -> dict[str, Any]:
    return {
        "now": said.standing.value,
        "told_to_entry": said.told_to_entry,
        "told_to_utc": said.told_to_utc.isoformat(),
        "qa": [
            {
                "standing": ruling.standing.value,
                "reason": ruling.reason,
                "person": ruling.person,
                "utc": ruling.utc.isoformat(),
                "entry": ruling.entry,
                "meaning": ruling.meaning,
                "batch": ruling.batch,
            }
            for ruling in said.rulings
        ],
        "amended": said.amended,
        "amendments": [_amendment(amendment) for amendment in said.amendments],
        "shipments": [_shipment(shipment) for shipment in said.shipments],
        "returns": [_returned(back) for back in said.returns],
        "superseded": _superseded(said.superseded),
    }


def _amendment(amendment: Amendment) -> dict[str, Any]:
    return {**asdict(amendment), "utc": amendment.utc.isoformat()}


def _shipment(shipment: Shipment) -> dict[str, Any]:
    return {
        **shipment.shipped.body(),
        "person": shipment.person,
        "utc": shipment.utc.isoformat(),
        "entry": shipment.entry,
        "chain": shipment.bench,
    }


def _returned(back: Return) -> dict[str, Any]:
    return {
        "complaint": back.complaint,
        "found": back.found,
        "person": back.person,
        "utc": back.utc.isoformat(),
        "entry": back.entry,
        "chain": back.bench,
    }


def _superseded(later: Superseded | None) -> dict[str, Any] | None:
    if later is None:
        return None
    return {**asdict(later), "utc": later.utc.isoformat(), "stood": later.stood.value}


def _trace(trace: Trace) -> dict[str, Any]:
    return {
        "sha256": trace.sha256,
        "stored": base64.b64encode(trace.encoded).decode("ascii"),
        "start_utc": trace.t0_utc.isoformat(),
        "note": trace.note,
        "seconds": _floats(trace.t_us / 1e6),
        "units": dict(trace.units),
        "channels": {name: _floats(values) for name, values in trace.channels.items()},
    }


def _floats(values: np.ndarray[Any, np.dtype[np.float64]]) -> Sequence[float | None]:
    found: Sequence[float | None] = values.tolist()
    return found if np.isfinite(values).all() else [v if np.isfinite(v) else None for v in values]


def write_json(filed: FiledRecord, path: Path) -> Path:
    """Write the record as JSON, whole or not at all."""
    temporary = part_of(path)
    temporary.write_text(as_text(signed_json(filed)), encoding="utf-8")
    return put_in_place(temporary, path)


def as_text(data: dict[str, Any]) -> str:
    """Return the data as a file: each trace in one line, all else to be read by people."""
    traces = {name: dump(trace) for name, trace in data["traces"].items()}
    told = json.dumps({**data, "traces": {}}, indent=1, ensure_ascii=False, allow_nan=False)
    lines = ",\n".join(f"  {dump(name)}: {trace}" for name, trace in traces.items())
    return told.replace('\n "traces": {}', f'\n "traces": {{\n{lines}\n }}', 1) + "\n"


def dump(value: Any) -> str:
    """Return a value as JSON in one line."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
