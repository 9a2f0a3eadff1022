"""Papers that a command wrote, put on record as the window does; said where that cannot be."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from benchstation.config.settings import home_folder, load_settings
from benchstation.domain.events import PaperWritten
from benchstation.driver_api.errors import StationError
from benchstation.store.bench_key import known_public_key
from benchstation.store.engine import open_store
from benchstation.store.trust import SYSTEM, Trust, trust_at


def own_trust() -> Trust | None:
    """Return what this computer signs with; ``None``: it has no key, and none is made."""
    home = home_folder()
    known = known_public_key(home)
    return trust_at(home, load_settings().backup_folders) if known else None


def note_papers(file: Path, facts: Sequence[PaperWritten]) -> str:
    """Put on record that these papers were written; gives what is said of it.

    The command line knows no person: the entry names the program.
    """
    if not facts:
        return ""
    try:
        with open_store(file, "", trust=own_trust()) as store:
            store.append(facts, person=SYSTEM, utc=datetime.now(UTC))
    except StationError as error:
        return f"\n{len(facts)} papers were written, which is NOT on record: {error.what}"
    return f"\n{len(facts)} papers were written, which is on record"
