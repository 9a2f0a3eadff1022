"""``benchstation verify``: records, or one exported record, held against what they must be."""

import argparse
import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from benchstation.cli.verify_record import ENDINGS, verify_record
from benchstation.config.settings import home_folder, load_settings
from benchstation.driver_api.errors import StationError
from benchstation.store.engine import open_store
from benchstation.store.known_heads import KnownHeads
from benchstation.store.verification import Verification
from benchstation.store.verifying import Verifier


@dataclass(frozen=True, slots=True)
class Said:
    """What is printed of a verdict."""

    sound: bool
    words: str
    caution: str = ""
    """What was mended on the way."""


def verify(options: argparse.Namespace) -> Said:
    """Verify what is named; return what is said of it."""
    if options.file is not None and options.file.suffix.lower() in ENDINGS:
        verdict = verify_record(options.file, options.journal, options.key, _verified_new)
        return Said(verdict.sound, verdict.words)
    caution = ""
    file = _records(options.file)
    anchor = _anchor(options.anchor) if options.anchor else None
    found = _verified(file, anchor, whole=options.whole)
    if found.damaged_indexes:
        caution = f"{file}: {found.problem} It is made again from its table."
        with open_store(file, "") as store:
            store.rebuild_indexes()
        found = _verified(file, anchor, whole=True)
    if not found.ok:
        return Said(False, f"{file}: NOT SOUND: {found.problem}", caution)
    lines = _lines(file, found, ", and the anchor is in it" if anchor else "")
    return Said(True, "\n".join(lines), caution)


def _verified(file: Path, anchor: tuple[int, str] | None, *, whole: bool) -> Verification:
    with open_store(file, "", read_only=True) as store:
        verifier = Verifier(store, KnownHeads(home_folder(), load_settings().backup_folders))
        check = verifier.whole if whole else verifier.new
        try:
            return check(_tell if sys.stderr.isatty() else None, anchor=anchor)
        finally:
            if sys.stderr.isatty():
                sys.stderr.write(f"\r{'':<40}\r")


def _verified_new(file: Path) -> Verification:
    return _verified(_records(file), None, whole=False)


def _tell(done: int, total: int) -> None:
    sys.stderr.write(f"\r{100 * done // total} % of what is read")
    sys.stderr.flush()


def _lines(file: Path, found: Verification, held: str) -> list[str]:
    lines = [f"{file}: sound, {found.entries} entries, head {found.head}{held}"]
    before = found.since
    if before is not None:
        when = datetime.fromisoformat(before.whole_utc).astimezone()
        lines += [
            f"  read now: entries {before.head.size + 1} to {found.entries}, with their content"
            if found.entries > before.head.size
            else "  no entry came since it was proven",
            f"  before: all was read {when:%Y-%m-%d %H:%M} ({before.whole_entries} entries); since "
            f"then the root of entry {before.head.size} stands as it was signed",
            "  not read again: bodies, content and searched tables from before; --whole reads them",
        ]
    return lines


def _records(given: Path | None) -> Path:
    from benchstation.app import STORE_FILE

    file = given or load_settings().data_path / STORE_FILE
    try:
        there = file.is_file()
    except (OSError, ValueError):
        there = False
    if not there:
        raise StationError("there is no such file of records.", where=str(file)[:200])
    return file


def _anchor(text: str) -> tuple[int, str]:
    entry, _, digest = text.partition(":")
    if not entry.isdigit() or len(digest) != 64:
        raise StationError(
            f"'{text}' is no anchor.",
            where="--anchor",
            advice="Give the entry's number, a colon, and the 64 characters of its hash.",
        )
    return int(entry), digest.lower()
