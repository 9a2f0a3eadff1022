"""A code of a label or certificate, scanned into the search of the records: its unit, checked."""

from benchstation.driver_api.errors import StationError
from benchstation.reports.export import FiledRecord, filed_record
from benchstation.reports.record_code import CertificateCode, LabelCode, code_in
from benchstation.store.chain_store import ChainStore
from benchstation.store.queries import get_unit
from benchstation.store.search import find_units
from benchstation.store.unit_rows import UnitRow

MOST_OF_A_SERIAL = 20
Code = CertificateCode | LabelCode


def scanned_unit(store: ChainStore, text: str) -> UnitRow | None:
    """Return the unit whose label or certificate says this; ``None``: it is no such code."""
    code = code_in(text)
    filed = _filed(store, code) if code is not None else None
    return get_unit(store, filed.record.unit_id) if filed is not None else None


def said_of_code(store: ChainStore, text: str) -> str:
    """Return what the check of a scanned code found; empty: it is no code of this program."""
    code = code_in(text)
    if code is None:
        return ""
    try:
        filed = _filed(store, code)
        if filed is None:
            return _unknown(code)
        altered = store.altered_entry(filed.entry.bench, filed.record.unit_id)
    except StationError as error:
        return f"Scanned code: the record is NOT SOUND: {error.what}"
    if altered is not None:
        return f"Scanned code: the record is NOT SOUND: entry {altered.seq} was altered."
    missing = sum(photo is None for photo in filed.photos.values())
    if missing:
        return f"Scanned code: {missing} of its photographs are missing or damaged."
    same = f"Scanned code: {filed.serial}, entry {filed.entry.seq}, is as it was filed."
    return f"{same} {_since(store, filed, code)}"


def _filed(store: ChainStore, code: Code) -> FiledRecord | None:
    if isinstance(code, CertificateCode):
        named = store.unit_of_entry(code.entry, code.entry_hash)
        return filed_record(store, named) if named else None
    units = find_units(store, code.serial, limit=MOST_OF_A_SERIAL)
    for unit in units:
        # A label that was printed before its serial was amended leads to it still.
        if (unit.serial == code.serial or unit.amended) and unit.filed_seq is not None:
            filed = filed_record(store, unit.unit_id)
            if filed.sha256.startswith(code.sha256):
                return filed
    return None


def _unknown(code: Code) -> str:
    """Return that no record has this code; words that only look like a label's are no code."""
    if isinstance(code, LabelCode):
        return ""
    return (
        "Scanned code: no record here has it. It is another bench's or shop's, or the paper is "
        "not of these records."
    )


def _since(store: ChainStore, filed: FiledRecord, code: Code) -> str:
    now = filed.disposition
    if isinstance(code, LabelCode):
        return f"Now: {now.standing}."
    then = filed_record(store, filed.record.unit_id, code.told_to).disposition
    if then.says_the_same(now):
        return f"The paper's standing holds: {now.standing}."
    return f"THE PAPER IS OLDER: it says {then.standing}; now {now.standing}."
