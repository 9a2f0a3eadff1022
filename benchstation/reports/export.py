"""A filed unit's record as JSON for other programs: SI values, traces and anchor included."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import rfc8785

from benchstation.atomic_file import part_of, put_in_place
from benchstation.domain.disposition import Amendment, Disposition, Return, Shipment
from benchstation.domain.events import UnitFiled, event_from
from benchstation.domain.inputs.zero import FILL_LINE, ZeroRead
from benchstation.domain.matching import charge_at_reference, share_at_reference
from benchstation.domain.recorded_inputs import photos_in
from benchstation.domain.unit_record import RecordedCharge, UnitRecord, record_in
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.outside_text import json_in, text_in
from benchstation.store.chain_store import ChainStore
from benchstation.store.entry_proof import EntryProof, proof_from
from benchstation.store.errors import NotOnRecordError
from benchstation.store.journal import Entry
from benchstation.store.traces import Trace
from benchstation.store.words_on_units import disposition_of

FORM = 2
"""The form of the exported JSON, raised when a key changes its meaning; form 1 names none."""


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

    @property
    def sha256(self) -> str:
        """Return SHA-256 of the record's canonical JSON (RFC 8785)."""
        return hashlib.sha256(rfc8785.dumps(self.record.as_json())).hexdigest()

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


def filed_record(store: ChainStore, unit_id: str) -> FiledRecord:
    """Read a filed unit's record; raises :class:`NotOnRecordError` for any other unit."""
    entries = store.entries(unit_id=unit_id)
    for entry in reversed(entries):
        if isinstance(entry.event, UnitFiled):
            record = record_in(entry.event.record)
            hashes = set(trace_names(record).values()) - {""}
            traces = {h: store.get_trace(h) for h in hashes}
            qa_hold, told_to = entry.event.qa_hold, entries[-1]
            said = disposition_of(store, unit_id, qa_hold=qa_hold, told_to=told_to)
            photos, proof = _photos(store, record), store.proof(entry)
            return FiledRecord(record, entry, said, traces, photos, proof)
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
    """Return the whole as JSON-ready data."""
    entry = filed.entry
    proven = {} if filed.proof is None else {"proof": filed.proof.as_json()}
    return {
        "form": FORM,
        "record": filed.record.as_json(),
        "record_sha256": filed.sha256,
        "journal": {"bench": entry.bench, "entry": entry.seq, "hash": entry.hash},
        "charge_at_reference": _at_reference(filed.record.charge),
        **proven,
        "standing": _standing(filed.disposition),
        "traces": {
            name: _trace(filed.traces[sha256])
            for name, sha256 in trace_names(filed.record).items()
            if sha256 in filed.traces
        },
        "photos": [
            {
                **asdict(picture),
                "step": title,
                "on_record": filed.photos.get(picture.sha256) is not None,
            }
            for title, picture in photos_in(filed.record)
        ],
    }


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


def _trace(trace: Trace) -> dict[str, Any]:
    return {
        "sha256": trace.sha256,
        "start_utc": trace.t0_utc.isoformat(),
        "seconds": _floats(trace.t_us / 1e6),
        "units": dict(trace.units),
        "channels": {name: _floats(values) for name, values in trace.channels.items()},
    }


def _floats(values: np.ndarray[Any, np.dtype[np.float64]]) -> Sequence[float | None]:
    return [float(v) if np.isfinite(v) else None for v in values]


def write_json(filed: FiledRecord, path: Path) -> Path:
    """Write the record as JSON, whole or not at all."""
    text = json.dumps(as_json(filed), indent=1, ensure_ascii=False, allow_nan=False)
    temporary = part_of(path)
    temporary.write_text(text + "\n", encoding="utf-8")
    return put_in_place(temporary, path)


LARGEST_RECORD_BYTES = 50_000_000


@dataclass(frozen=True, slots=True)
class CheckedRecord:
    """An exported record that is as it was written, and what it proves of itself."""

    entry: int
    hash: str
    proof: EntryProof | None
    """Holds; ``None``: it carries none."""


def check_json(path: Path) -> CheckedRecord:
    """Recompute an exported record's hash, and follow its proof to the bench's signed head.

    Raises ``StationError`` when it is no record, or was changed after it was written.
    """
    try:
        data = json_in(text_in(path, LARGEST_RECORD_BYTES))
        form = int(data.get("form", 1))
        digest = hashlib.sha256(rfc8785.dumps(data["record"])).hexdigest()
        stated, journal = data["record_sha256"], data["journal"]
        entry, own = int(journal["entry"]), str(journal["hash"])
    except (
        ValueError,
        KeyError,
        RecursionError,
        TypeError,
        AttributeError,
        rfc8785.CanonicalizationError,
    ) as error:
        raise StationError(
            "this is not an exported record.", where=str(path)[:200], detail=repr(error)[:500]
        ) from error
    if form > FORM:
        raise StationError(
            f"a newer version of this program wrote this record (form {form}, this one knows "
            f"{FORM}).",
            where=str(path),
            advice="Check it with that version.",
        )
    if digest != stated:
        raise StationError(
            "the record was changed after it was written: its hash does not fit.",
            where=str(path),
            advice="Export it again from the records file.",
        )
    return CheckedRecord(entry, own, _proven(data, own, str(path)))


def _proven(data: Mapping[str, Any], own: str, where: str) -> EntryProof | None:
    """Return the proof that a record carries. Raises ``StationError`` when it does not hold."""
    if "proof" not in data:
        return None
    try:
        proof = proof_from(data["proof"])
        event = event_from(proof.entry["kind"], proof.entry["body"])
        filed = isinstance(event, UnitFiled) and record_in(event.record).as_json()
    except (ValueError, StationError) as error:
        raise StationError(
            "the proof in this record cannot be read.", where=where, detail=repr(error)[:500]
        ) from error
    if not proof.holds or proof.entry_hash != own or filed != data["record"]:
        raise StationError(
            "the proof does not hold: this record is not the one that the bench signed.",
            where=where,
            advice="Export it again from the records file.",
        )
    return proof
