"""``benchstation move``: this bench goes to another computer, and is taken over there."""

import argparse
import getpass
from datetime import UTC, datetime
from pathlib import Path

from benchstation.bench.staff import people_from
from benchstation.cli.trust import records_of_bench, signing_lead
from benchstation.config.settings import (
    default_settings_path,
    files_beside,
    home_folder,
    load_settings,
    settings_text,
)
from benchstation.driver_api.errors import StationError
from benchstation.store.engine import open_store
from benchstation.store.moving import (
    BESIDE,
    LEAST_PASSPHRASE,
    forget_key,
    is_written,
    move_out,
    take_over,
)
from benchstation.store.trust import trust_at


def move_bench(options: argparse.Namespace) -> str:
    """Close the bench here and write all of it into a folder; return what is said of it."""
    file, folder, reason = records_of_bench(), options.folder.absolute(), options.reason.strip()
    if not reason or not options.person:
        raise StationError(
            "a lead signs for a move.",
            where="--person, --reason",
            advice="Nothing was changed. Give a lead's name as it stands in the records, and why.",
        )
    with open_store(file, "", read_only=True) as store:
        people = people_from(store)
    lead = signing_lead(people.get(options.person), options.person)
    home, now = home_folder(), datetime.now(UTC)
    head = is_written(file, folder)
    if head is None:
        passphrase = _new_passphrase()
        trust = trust_at(home, load_settings().backup_folders)
        head = move_out(
            file, folder, trust, lead.person_id, reason, passphrase, _beside(), now
        )  # fmt: skip
    forget_key(home)
    return (
        f"{folder}: {head.size} entries, settings, profiles and the sealed key; proven\n"
        f"{file}: closed for writing; signed by {lead.name}: {reason}\n"
        "on the new computer: benchstation move --take FOLDER"
    )


def take_bench(folder: Path) -> str:
    """Take over a bench that was moved; return what is said of it."""
    from benchstation.app import STORE_FILE

    source, own = folder.absolute(), load_settings()
    moved = source / BESIDE / default_settings_path().name
    # Where records lie is a matter of each computer.
    here = load_settings(moved).model_copy(update={"data_dir": own.data_dir})
    target = here.data_path / STORE_FILE
    passphrase = getpass.getpass("Passphrase of the move (empty where it is lost): ")
    instead = {moved.name: settings_text(here).encode()}
    done = take_over(source, target, home_folder(), passphrase, instead, datetime.now(UTC))
    lines = [f"{target}: taken over, {done.entries} entries, proven"]
    lines += [f"what stood there is kept as {file.name}" for file in done.set_aside]
    if not passphrase:
        lines.append("the key was not moved: a lead signs for a new one, 'benchstation new-key'")
    lines.append("check ports of instruments, lamp and copies; join the shop again if there is one")
    return "\n".join(lines)


def _beside() -> dict[str, bytes]:
    """Return settings and profiles as they travel: without the place of this computer's records."""
    found = {name: file.read_bytes() for name, file in files_beside().items()}
    travelling = load_settings().model_copy(update={"data_dir": None})
    return {**found, default_settings_path().name: settings_text(travelling).encode()}


def _new_passphrase() -> str:
    first = getpass.getpass("Passphrase that seals the key (needed on the new computer): ")
    if len(first) < LEAST_PASSPHRASE:
        raise StationError(
            f"a passphrase has at least {LEAST_PASSPHRASE} characters.",
            advice="Nothing was changed.",
        )
    if getpass.getpass("The same again: ") != first:
        raise StationError("the two are not the same.", advice="Nothing was changed.")
    return first
