"""``benchstation verify record.json``, or ``record.pdf``: one record held against what is here."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchstation.config.settings import home_folder, load_settings
from benchstation.driver_api.errors import StationError
from benchstation.reports.archive import attached_in
from benchstation.reports.record_check import (
    ChangedError,
    CheckedRecord,
    against_journal,
    alone,
    exported_in,
    noted_as_written,
    require_same_pages,
)
from benchstation.store.bench_key import known_public_key
from benchstation.store.engine import Store, open_store
from benchstation.store.verification import Verification

PDF = ".pdf"
ENDINGS = (".json", PDF)
MOST_BYTES = 500_000_000
GIVEN, OWN = "the key given", "this computer's key"
Verify = Callable[[Path], Verification]


@dataclass(frozen=True, slots=True)
class RecordVerdict:
    """What is printed of one record; ``sound``: all of it is as it was written and filed."""

    sound: bool
    words: str


def verify_record(
    path: Path, journal: Path | None, key: str | None, verify: Verify
) -> RecordVerdict:
    """Compare one exported record with a journal, or with what it proves of itself.

    ``journal``: the file of records that it is of, where it is not this bench's own. ``verify``
    proves such a file first. Raises ``StationError`` for what is no record or cannot be read.
    """
    content, where = _content(path), str(path)
    try:
        data, pages = _record_in(path, content)
        checked, beside = _checked(data, journal, key, where, verify, content)
    except ChangedError as error:
        detail = f"\n  {error.advice}" if error.advice else ""
        return RecordVerdict(False, f"{path}: NOT SOUND: {error.what}{detail}")
    proven = checked.proven
    compared, missing = list(checked.compared), list(checked.not_compared)
    if pages:
        if not checked.signed and not beside:
            # Whoever changes pages can change a hash beside them; nothing else vouches for it.
            missing.append("its pages: neither a known signature nor the journal vouches for them")
            proven = False
        else:
            compared.append("its pages: with the hash in the record attached to them")
    compared += beside
    state = "sound: as it was written and filed" if proven else "NOT PROVEN"
    lines = [f"{path}: {state}", *(f"  compared: {line}" for line in compared)]
    lines += [f"  not compared: {line}" for line in missing]
    lines += [f"  {checked.later}"] * bool(checked.later)
    return RecordVerdict(proven, "\n".join(lines))


def _content(path: Path) -> bytes:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise StationError("this file is too large to be a record.", where=str(path)[:200])
        return path.read_bytes()
    except OSError as error:
        raise StationError(
            f"this file cannot be read ({error.strerror}).",
            where=str(path)[:200],
            detail=repr(error)[:500],
        ) from error


def _record_in(path: Path, content: bytes) -> tuple[dict[str, Any], bool]:
    """Return the record that a file is, or that is attached to it, and whether it has pages."""
    if path.suffix.lower() != PDF:
        return exported_in(content, str(path)), False
    attached, pages_sha256 = attached_in(content, str(path))
    data = exported_in(attached, str(path))
    require_same_pages(data, pages_sha256, str(path))
    return data, True


def _checked(
    data: Mapping[str, Any],
    journal: Path | None,
    key: str | None,
    where: str,
    verify: Verify,
    content: bytes,
) -> tuple[CheckedRecord, list[str]]:
    """Return what was compared with what, and what the journal notes of the file itself."""
    file = journal or _own_journal(str(data["journal"]["bench"]))
    trusted = _trusted(key)
    if file is None:
        return alone(data, trusted, where), []
    found = verify(file)
    if not found.ok:
        raise ChangedError(
            f"the journal {file} is not sound, so nothing is compared with it: {found.problem}",
            where=where,
            advice="Verify the journal, and keep both for QA.",
        )
    with open_store(file, "", read_only=True) as store:
        if journal is None and store.bench != data["journal"]["bench"]:
            return alone(data, trusted, where), []
        checked = against_journal(data, store, where)
        return checked, _noted(store, data, content)


def _noted(store: Store, data: Mapping[str, Any], content: bytes) -> list[str]:
    fact = noted_as_written(store, data, content)
    if fact is None:
        return []
    return [f"the file, byte for byte: with the journal's note of the {fact.what} written"]


def _own_journal(bench: str) -> Path | None:
    """Return the file of this bench's own records, where it is the bench that is named."""
    from benchstation.app import STORE_FILE

    settings = load_settings()
    file = settings.data_path / STORE_FILE
    return file if file.is_file() and settings.bench_id == bench else None


def _trusted(key: str | None) -> dict[str, str]:
    """Return the public key that must have signed, and how it is known; none: none is known."""
    if key is not None:
        return {key.strip().lower(): GIVEN}
    own = known_public_key(home_folder())
    return {own: OWN} if own else {}
