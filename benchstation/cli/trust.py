"""Copies of the records at the command line, and what a lead signs for: a loss, another key."""

import argparse
import getpass
from datetime import UTC, datetime
from pathlib import Path

from benchstation.bench.accepting import Accepting
from benchstation.bench.lead_signs import lead_on_record
from benchstation.config.settings import files_beside, home_folder, load_settings
from benchstation.domain.people import Person, Role, check_pin
from benchstation.driver_api.errors import StationError
from benchstation.store.backup import drill, make_copy, restore, unpack_missing
from benchstation.store.bench_key import bench_key
from benchstation.store.engine import open_store
from benchstation.store.known_heads import KnownHeads
from benchstation.store.trust import Accepted, Trust, trust_at

WHAT = {"accept-loss": Accepted.LOSS, "new-key": Accepted.KEY}


def trust_for(data: Path | None, scratch: Path) -> Trust:
    """Return this computer's key; the heads of records that are thrown away are kept with them."""
    home = home_folder()
    return trust_at(home) if data else Trust(bench_key(home), KnownHeads(scratch), scratch)


def accept(options: argparse.Namespace) -> str:
    """Put a lead's word on record, after the PIN; gives what is said of it."""
    from benchstation.app import STORE_FILE

    settings = load_settings()
    file = settings.data_path / STORE_FILE
    reason = options.reason.strip()
    if not file.is_file() or not reason:
        what = "there are no records of this bench." if reason else "no reason is given."
        raise StationError(what, where=str(file), advice="Nothing was changed.")
    with open_store(file, settings.bench_id, read_only=True) as store:
        known = lead_on_record(store, options.person)
    asked = Accepting(
        file,
        settings.bench_id,
        lambda: trust_at(home_folder(), settings.backup_folders),
        "",
        WHAT[options.command],
    )
    store, lead = asked.sign(known.name, getpass.getpass(f"PIN of {known.name}: "), reason)
    with store:
        entry, _ = store.head()
    return f"{file}: in use again, {entry} entries; signed by {lead.name}: {reason}"


def back_up(folder: Path) -> str:
    """Write a copy of this bench's records, open it and compare it; gives what is said of it."""
    file = records_of_bench()
    made = make_copy(file, folder.absolute(), datetime.now(UTC), files_beside())
    with open_store(file, "", read_only=True) as store:
        found = drill(made, store)
    if not found.ok:
        raise StationError(
            f"the copy was made but is not sound: {found.problem}",
            where=str(made.path),
            advice="Verify the records, and check that disk.",
        )
    return f"{made.path}: sound, {found.entries} entries, opened and compared"


def put_back(source: Path) -> str:
    """Put a copy in the records' place; gives what is said of it."""
    from benchstation.app import STORE_FILE

    settings = load_settings()
    target = settings.data_path / STORE_FILE
    known = KnownHeads(home_folder())
    done = restore(source.absolute(), target, known, datetime.now(UTC))
    lines = [f"{target}: {done.entries} entries, from {done.copy.path}"]
    if done.set_aside is not None:
        stood = "the damaged file that stood there" if done.damaged else "what stood there"
        lines.append(f"{stood} is kept as {done.set_aside.name}")
    if put_back := unpack_missing(done.copy, home_folder()):
        lines.append(f"put back beside the key: {', '.join(put_back)}")
    elif done.copy.beside.is_file():
        beside = done.copy.beside.name
        lines.append(f"the settings here were left as they are; those of the copy are in {beside}")
    with open_store(target, "", read_only=True) as store:
        problem = store.verify(known=known).problem
    if problem:
        lines.append(
            f"{problem} To continue with the copy: benchstation accept-loss (a lead signs)"
        )
    return "\n".join(lines)


def records_of_bench() -> Path:
    """Return the file of this bench's records. Raises ``StationError`` where there is none."""
    from benchstation.app import STORE_FILE

    file = load_settings().data_path / STORE_FILE
    if not file.is_file():
        raise StationError("there are no records of this bench.", where=str(file))
    return file


def signing_lead(person: Person | None, given: str) -> Person:
    """Return the lead who typed the right PIN. Raises for anybody else."""
    if person is None or person.left or Role.LEAD not in person.roles:
        raise StationError(
            f"'{given}' is no lead of this bench.",
            where="--person",
            advice="Nothing was changed. Give a lead's name as it stands in the records.",
        )
    if not check_pin(person, getpass.getpass(f"PIN of {person.name}: ")):
        raise StationError("that is not the PIN.", where=person.name, advice="Nothing was changed.")
    return person
