"""An exported record held against the journal, or against what it proves of itself.

Against the journal the same record is exported from it once more, as it was known at the entry up
to which the export tells, and both are compared value by value. Without a journal the record is
read out of the filing entry that its proof carries, and all that follows from it is made once more.
"""

import base64
import binascii
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import rfc8785

from benchstation.domain.disposition import Disposition, Standing
from benchstation.domain.events import PaperWritten, UnitFiled, event_from
from benchstation.domain.unit_record import record_in
from benchstation.driver_api.errors import StationError
from benchstation.reports.export import (
    FORM,
    FiledRecord,
    as_json,
    filed_record,
    signed_bytes,
    trace_names,
)
from benchstation.store.bench_key import signed_by
from benchstation.store.chain_store import ChainStore
from benchstation.store.entry_proof import EntryProof, proof_from
from benchstation.store.errors import NotOnRecordError
from benchstation.store.journal import Entry
from benchstation.store.schema import utc_from
from benchstation.store.traces import Trace, decode
from benchstation.store.words_on_units import disposition_of

LARGEST_RECORD_BYTES: Final = 200_000_000
SIGNS_ALL: Final = 3
"""From this form on the signature is over the whole."""
NOTED_WITHIN: Final = 5_000
"""So many entries after the one that a paper tells up to it must be noted as written."""
MALFORMED: Final = (
    ValueError,
    KeyError,
    RecursionError,
    TypeError,
    AttributeError,
    OverflowError,
    rfc8785.CanonicalizationError,
)


class ChangedError(StationError):
    """An exported record is not as it was written."""


@dataclass(frozen=True, slots=True)
class CheckedRecord:
    """What an exported record was compared with, and what of it could not be compared.

    ``proven``: every part that can be changed was compared with something that is trusted here.
    """

    entry: int
    hash: str
    bench: str
    proven: bool
    compared: tuple[str, ...]
    not_compared: tuple[str, ...]
    signed: bool = False
    """Its signature holds, and is of a key that is trusted here."""
    later: str = ""
    """What QA said since."""


def exported_in(data: bytes, where: str) -> dict[str, Any]:
    """Return an exported record that is one in itself: its record has the hash that it states.

    Raises ``StationError`` for anything else, and for a form that this version does not know.
    """
    try:
        if len(data) > LARGEST_RECORD_BYTES:
            raise ValueError("too large")
        found: dict[str, Any] = json.loads(data.decode("utf-8"), object_pairs_hook=_once)
        form = found.get("form", 1)
        if not isinstance(form, int) or isinstance(form, bool):
            raise TypeError("the form is no number")
        digest = hashlib.sha256(rfc8785.dumps(found["record"])).hexdigest()
        stated, journal = found["record_sha256"], found["journal"]
        str(journal["bench"]), int(journal["entry"]), str(journal["hash"])
        dict(found["traces"])
    except MALFORMED as error:
        no_json = isinstance(error, json.JSONDecodeError | UnicodeDecodeError)
        why = ": it is no JSON, is damaged, or was cut short." if no_json else "."
        raise StationError(
            f"this is not an exported record{why}", where=where[:200], detail=repr(error)[:500]
        ) from error
    if form > FORM:
        raise StationError(
            f"a newer version of this program wrote this record (form {form}, this one knows "
            f"{FORM}).",
            where=where,
            advice="Check it with that version.",
        )
    if digest != stated:
        raise _changed("the record was changed after it was written: its hash does not fit.", where)
    return found


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object; one key twice would be read in two ways by two programs."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice in it")
    return found


@contextmanager
def _of_its_form(where: str) -> Iterator[None]:
    """Word what a record meets that has not the form of one."""
    try:
        yield
    except MALFORMED as error:
        raise _changed(
            "the record was changed: it does not have the form of one.", where, repr(error)
        ) from error


def against_journal(data: Mapping[str, Any], store: ChainStore, where: str) -> CheckedRecord:
    """Compare an exported record with a journal that holds its unit.

    Raises :class:`ChangedError` where they differ.
    """
    with _of_its_form(where):
        return _against_journal(data, store, where)


def _against_journal(data: Mapping[str, Any], store: ChainStore, where: str) -> CheckedRecord:
    unit, place = str(data["record"]["unit_id"]), data["journal"]
    form = data.get("form", 1)
    told_to = int(data["standing"]["told_to_entry"]) if form > 1 else None
    try:
        filed = filed_record(store, unit, told_to, _until(data))
    except NotOnRecordError as error:
        raise _changed(f"the journal does not have it: {error.what}", where) from error
    altered = store.altered_entry(filed.entry.bench, unit)
    if altered is not None:
        raise ChangedError(
            f"the journal itself was altered: entry {altered.seq} has not the hash of its content.",
            where=store.where,
            advice="Keep both for QA, and verify the journal.",
        )
    kept, signed = as_json(filed), False
    if form == 1:
        event = filed.entry.event
        assert isinstance(event, UnitFiled)
        kept = {"record": _as_first_written(store, filed.entry), "journal": kept["journal"]}
        data = {name: data[name] for name in kept}
    else:
        signed = _signed(data, where, store.keys_on_record(filed.entry.bench), filed.entry)
        data = _without(data, ("proof", "signature", "paper", "record_sha256"))
        kept = _without(_in_form(form, kept), ("proof", "record_sha256"))
    different = next(_differences(data, kept, ""), None)
    if different is not None:
        raise _changed(f"the record is not the one in the journal: {different}", where)
    told = f"the journal of {place['bench']} ({store.where}), entry {place['entry']}"
    rest = ("its traces sample by sample", "its photographs by SHA-256", "what QA said")
    compared = ("the record", *(rest if form > 1 else ()))
    return CheckedRecord(
        int(place["entry"]),
        str(place["hash"]),
        str(place["bench"]),
        form > 1,
        (f"{', '.join(compared)}: with {told}",),
        () if form > 1 else (f"{', '.join(rest)}: an export of form 1 says too little of them",),
        signed,
        _later(store, filed),
    )


def _as_first_written(store: ChainStore, entry: Entry) -> Any:
    """Return the record as the entry holds it, in the form of the day on which it was written."""
    return store.body_at(entry.bench, entry.seq)["record"]


def _later(store: ChainStore, filed: FiledRecord) -> str:
    assert isinstance(filed.entry.event, UnitFiled)
    qa_hold, then = filed.entry.event.qa_hold, filed.disposition
    now = disposition_of(store, filed.record.unit_id, qa_hold=qa_hold)
    if now.says_the_same(then):
        return f"QA said nothing since (up to entry {now.told_to_entry}): {now.standing}"
    if now.superseded is not None and then.superseded is None:
        place = f"{now.superseded.bench} entry {now.superseded.entry}"
        return f"SUPERSEDED since: a later rebuild of this serial is filed ({place})"
    return (
        f"QA said more since entry {then.told_to_entry}: now {now.standing}"
        f" (up to entry {now.told_to_entry})"
    )


def _until(data: Mapping[str, Any]) -> datetime | None:
    """Return when the later rebuild was filed that an export names: it was known by then."""
    later = data.get("standing", {}).get("superseded")
    return utc_from(str(later["utc"])) if later else None


def _in_form(form: int, kept: Mapping[str, Any]) -> dict[str, Any]:
    """Return an export as an earlier form had it."""
    if form < FORM:
        kept = _in_form_3(kept)
    return dict(kept if form >= SIGNS_ALL else _in_form_2(kept))


def _in_form_3(kept: Mapping[str, Any]) -> dict[str, Any]:
    """Return an export as form 3 had it: it knew of no later rebuild."""
    said = kept["standing"]
    now = said["superseded"]["stood"] if said["superseded"] else said["now"]
    standing = {**_without(said, ("superseded",)), "now": now}
    return {**kept, "form": 3, "schema": "exported-record-3.schema.json", "standing": standing}


def _in_form_2(kept: Mapping[str, Any]) -> dict[str, Any]:
    """Return an export as form 2 had it, from one of form 3."""
    traces = {name: _without(t, ("stored", "note")) for name, t in kept["traces"].items()}
    said = kept["standing"]
    qa = [_without(ruling, ("meaning", "batch")) for ruling in said["qa"]]
    standing = {"qa": qa, **{n: said[n] for n in ("now", "told_to_entry", "told_to_utc")}}
    return {**_without(kept, ("schema",)), "form": 2, "traces": traces, "standing": standing}


def _without(data: Mapping[str, Any], names: Sequence[str]) -> dict[str, Any]:
    return {name: value for name, value in data.items() if name not in names}


def _signed(data: Mapping[str, Any], where: str, keys: Sequence[str], entry: Entry) -> bool:
    """Return whether a key of this chain signed it. Raises where proof or signature do not hold."""
    if "proof" in data:
        proof = _proof_in(data, where)
        if proof.entry_hash != entry.hash or proof.head.public_key not in keys:
            raise _changed("its proof is not of this journal.", where)
    if "signature" not in data:
        return False
    public = _genuine(data, where)
    if keys and public not in keys:
        raise _changed("its signature is not of a key of this bench.", where)
    return public in keys


def _genuine(data: Mapping[str, Any], where: str) -> str:
    """Return the public key that signed an export. Raises where the signature does not hold."""
    given = data["signature"]
    public, signature = str(given["public_key"]), str(given["signature"])
    whole = set(given) == {"public_key", "signature"}
    if not whole or not signed_by(public, signature, signed_bytes(data)):
        raise _changed("it was changed after it was signed.", where)
    return public


def _proof_in(data: Mapping[str, Any], where: str) -> EntryProof:
    try:
        proof = proof_from(data["proof"])
    except (*MALFORMED, StationError) as error:
        raise _changed("the proof in this record cannot be read.", where, repr(error)) from error
    place, entry = data["journal"], proof.entry
    same = (entry["bench"], entry["seq"]) == (place["bench"], place["entry"])
    if not proof.holds or not same or proof.entry_hash != place["hash"]:
        raise _changed(
            "the proof does not hold: this record is not the one that the bench signed.", where
        )
    return proof


def alone(data: Mapping[str, Any], trusted: Mapping[str, str], where: str) -> CheckedRecord:
    """Compare an exported record with its proof and its signature, where there is no journal.

    ``trusted``: public keys, and how each is known. Raises :class:`ChangedError`.
    """
    with _of_its_form(where):
        return _alone(data, trusted, where)


def _alone(data: Mapping[str, Any], trusted: Mapping[str, str], where: str) -> CheckedRecord:
    place = data["journal"]
    number, own, bench = int(place["entry"]), str(place["hash"]), str(place["bench"])
    after = f"what QA said after entry {data.get('standing', {}).get('told_to_entry', number)}"
    if "proof" not in data:
        missing = "all of it: it carries no proof, and the journal is not at hand"
        return CheckedRecord(number, own, bench, False, (), (missing,))
    proof = _proof_in(data, where)
    _require_record_of(proof, data, where)
    head = proof.head
    compared = [f"the record: with entry {number}, proven by the head of {head.size} entries"]
    form = data.get("form", 1)
    if form < SIGNS_ALL:
        rest = "its traces, photographs and QA's words: this older form does not sign them"
        return CheckedRecord(number, own, bench, False, tuple(compared), (rest, after))
    again = _in_form(form, as_json(_rebuilt(data, proof, where)))
    # What QA said is in no proof of the filing; the signature vouches for it.
    left, made = (_without(d, ("signature", "paper", "standing")) for d in (data, again))
    different = next(_differences(left, made, ""), None)
    if different is not None:
        raise _changed(f"it contradicts itself: {different}", where)
    compared.append("its traces, sample by sample: with the SHA-256 that the record names")
    if "signature" not in data:
        rest = "what QA said, and names: the bench's key did not sign this export"
        return CheckedRecord(number, own, bench, False, tuple(compared), (rest, after))
    public = _genuine(data, where)
    # What a desk exports it signs itself; the journal that it is of was signed at the bench.
    unknown = [key for key in dict.fromkeys((public, head.public_key)) if key not in trusted]
    if unknown:
        rest = f"another key signed it, {unknown[0]}; name the bench's own with --key"
        return CheckedRecord(number, own, bench, False, tuple(compared), (rest, after))
    compared.append(f"the whole: with its signature, of {trusted[public]} ({public})")
    photos = ("the photographs themselves, which only the journal has",) if data["photos"] else ()
    return CheckedRecord(number, own, bench, True, tuple(compared), (*photos, after), True)


def _require_record_of(proof: EntryProof, data: Mapping[str, Any], where: str) -> None:
    try:
        event = event_from(proof.entry["kind"], proof.entry["body"])
        filed = isinstance(event, UnitFiled) and record_in(event.record).as_json()
    except (*MALFORMED, StationError) as error:
        raise _changed("the proof in this record cannot be read.", where, repr(error)) from error
    # In the form of then, too: an export of before holds the record as it was first written.
    written = proof.entry["body"].get("record")
    if all(next(_differences(data["record"], r, ""), None) for r in (filed, written)):
        raise _changed(
            "the proof does not hold: this record is not the one that the bench signed.", where
        )


def _rebuilt(data: Mapping[str, Any], proof: EntryProof, where: str) -> FiledRecord:
    """Return what an export states, read back from its proven parts."""
    record = record_in(data["record"])
    event = event_from(proof.entry["kind"], proof.entry["body"])
    place = proof.entry
    entry = Entry(
        place["bench"],
        place["seq"],
        utc_from(place["utc"]),
        place["person"],
        place["kind"],
        event,
        place["prev"],
        proof.entry_hash,
    )
    standing = Disposition(Standing.NOT_RELEASED, (), 0, entry.utc)
    traces = {name: _trace(data["traces"].get(name), sha256, name, where)
              for name, sha256 in trace_names(record).items() if sha256}  # fmt: skip
    photos = {p["sha256"]: b"" if p["on_record"] else None for p in data["photos"]}
    by_hash = {trace.sha256: trace for trace in traces.values()}
    return FiledRecord(record, entry, standing, by_hash, photos, proof)


def _trace(written: Any, sha256: str, name: str, where: str) -> Trace:
    try:
        return decode(base64.b64decode(written["stored"], validate=True), sha256)
    except (*MALFORMED, binascii.Error, StationError) as error:
        raise _changed(f"the trace of the {name} was changed.", where, repr(error)) from error


def noted_as_written(
    store: ChainStore, data: Mapping[str, Any], content: bytes
) -> PaperWritten | None:
    """Return the fact that these very bytes were written as a paper of the unit, if it is there."""
    told_to = int(data["standing"]["told_to_entry"]) if "standing" in data else 0
    digest = hashlib.sha256(content).hexdigest()
    for entry in store.entries_between(told_to, told_to + NOTED_WITHIN):
        fact = entry.event
        if isinstance(fact, PaperWritten) and fact.sha256 == digest:
            return fact
    return None


def require_same_pages(data: Mapping[str, Any], pages_sha256: str, where: str) -> None:
    """Raise :class:`ChangedError` where pages are not those that the attached record names."""
    paper = data.get("paper")
    if not isinstance(paper, Mapping) or paper.get("pages_sha256") != pages_sha256:
        raise _changed("the pages were changed: they are not those of the attached record.", where)


def _differences(given: Any, kept: Any, path: str) -> Iterator[str]:
    """Return where two pieces of JSON differ, the first one first."""
    if isinstance(given, Mapping) and isinstance(kept, Mapping):
        for name in kept:
            if name not in given:
                yield f"{path}{name} is missing"
        for name, value in given.items():
            if name not in kept:
                yield f"{path}{name} was added"
            else:
                yield from _differences(value, kept[name], f"{path}{name}.")
        return
    if _is_list(given) and _is_list(kept):
        if len(given) != len(kept):
            yield f"{path.rstrip('.')} has {len(given)} parts, not {len(kept)}"
            return
        # Long rows of numbers are compared at once.
        if given == list(kept) and not any(isinstance(v, bool) for v in given):
            return
        for place, (one, other) in enumerate(zip(given, kept, strict=True)):
            yield from _differences(one, other, f"{path}{place}.")
        return
    if given != kept or isinstance(given, bool) != isinstance(kept, bool):
        yield f"{path.rstrip('.')} says {_short(given)}, not {_short(kept)}"


def _is_list(value: Any) -> bool:
    return isinstance(value, list | tuple)


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _changed(what: str, where: str, detail: str = "") -> ChangedError:
    return ChangedError(
        what,
        where=where,
        advice="Keep this file for QA, and export the record again from the records.",
        detail=detail[:500],
    )
