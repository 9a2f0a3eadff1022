"""What left with one serial, when, and proven by what, as terms beside each record of it."""

from benchstation.domain.disposition import Standing
from benchstation.quantities.formatter import local_time
from benchstation.reports.paper import verdict_in_words
from benchstation.screens.model.elements import TermGroup, TermView
from benchstation.store.chain_store import ChainStore
from benchstation.store.serial_history import Left, Proof, Rebuilt, history_of

HASH_SHOWN = 16


def history_group(store: ChainStore, serial: str, shown: str) -> tuple[TermGroup, ...]:
    """Return all rebuilds of a serial with shipments and returns; ``shown`` is the open one."""
    terms = [term for one in history_of(store, serial) for term in _terms(one, shown)]
    return (TermGroup("What left with this serial", tuple(terms)),)


def _terms(one: Rebuilt, shown: str) -> list[TermView]:
    row = one.row
    built = f"Rebuild of {local_time(row.opened_utc)}"
    said = verdict_in_words(row.decision, Standing(row.standing)) if one.filed else row.state
    this = " (this record)" if row.unit_id == shown else ""
    why = ""
    if one.after_return is not None and one.after_return.back is not None:
        why = f"after the return for “{one.after_return.back.complaint}”; "
    beside = f"{why}{_proof('record', one.filed)}" if one.filed else f"{why}{row.bench}"
    found = [TermView(f"{built}{this}", said, beside, strong=bool(this))]
    for left in one.left:
        found += _left(left)
    for back, utc, proof in one.unshipped:
        complaint = f"{back.complaint}; no shipment is on record"
        found.append(TermView(f"Back {local_time(utc)}", complaint, _proof("entry", proof)))
    return found


def _left(left: Left) -> list[TermView]:
    shipped = left.shipped
    order = f", order {shipped.order}" if shipped.order else ""
    to = f"to {left.customer}{order}"
    terms = [TermView(f"Shipped {local_time(left.utc)}", to, _proof("shipment", left.proof))]
    if left.back is not None and left.back_utc is not None and left.back_proof is not None:
        found = f"; found: {left.found}" if left.found else ""
        complaint = f"{left.back.complaint}{found}"
        beside = _proof("return", left.back_proof)
        terms.append(TermView(f"Back {local_time(left.back_utc)}", complaint, beside))
    return terms


def _proof(what: str, proof: Proof) -> str:
    return f"{what}: {proof.bench} entry {proof.entry}, {proof.hash[:HASH_SHOWN]}..."
