"""``benchstation verify``: records, or one exported record, held against what they must be."""

import argparse
import re
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

WHOLE_HASH = 64
_ANCHOR = re.compile(r"([0-9]{1,18}):([0-9a-f]{16,64})\.*")


@dataclass(frozen=True, slots=True)
class Said:
    """What is printed of a verdict."""

    sound: bool
    words: str
    caution: str = ""
    """What was mended on the way."""


def verify(options: argparse.Namespace) -> Said:
    """Verify what is named; return what is said of it."""
    if options.file is not None:
        _require_file(options.file)
    anchor = _anchor(options.anchor) if options.anchor else None
    if options.file is not None and options.file.suffix.lower() in ENDINGS:
        verdict = verify_record(options.file, options.journal, options.key, _verified_new)
        return Said(verdict.sound, verdict.words)
    caution = ""
    file = _records(options.file)
    found = _verified(file, anchor, whole=options.whole)
    if found.damaged_indexes:
        caution = f"{file}: {found.problem} It is made again from its table."
        with open_store(file, "") as store:
            store.rebuild_indexes()
        found = _verified(file, anchor, whole=True)
    if not found.ok:
        return Said(False, f"{file}: NOT SOUND: {found.problem}", caution)
    lines = _lines(file, found, _held(anchor))
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


def _held(anchor: tuple[int, str] | None) -> str:
    if anchor is None:
        return ""
    given = len(anchor[1])
    part = "" if given == WHOLE_HASH else f" (the first {given} characters of its hash fit)"
    return f", and the anchor is in it{part}"


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
    _require_file(file)
    return file


def _require_file(file: Path) -> None:
    """Raise ``StationError`` in words of its own for a folder, and for what is not there."""
    try:
        folder, there = file.is_dir(), file.is_file()
    except (OSError, ValueError):
        folder = there = False
    if folder:
        raise StationError(
            "this is a folder; one file is verified at a time.",
            where=str(file)[:200],
            advice="Name a file of records, a copy of it, or one exported record (JSON or PDF). "
            "How an export of everything is proven stands in the README.txt that lies in it.",
        )
    if not there:
        raise StationError("there is no such file.", where=str(file)[:200])


def _anchor(text: str) -> tuple[int, str]:
    """Return the entry and what was given of its hash; a screen shows the first 16 and dots."""
    found = _ANCHOR.fullmatch(text.strip().lower())
    if found is None:
        raise StationError(
            f"'{text[:100]}' is no anchor.",
            where="--anchor",
            advice="Give the entry's number, a colon, and its hash: all 64 characters as a "
            "certificate has them, or at least the first 16.",
        )
    return int(found[1]), found[2]
