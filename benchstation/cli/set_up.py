"""Setting a bench up from a file: at once where none is founded, else by a lead's signature."""

import argparse
import getpass
import sys
from collections.abc import Callable
from datetime import UTC, datetime

from benchstation.app import founded_store, write_bench, write_founded
from benchstation.bench.lead_signs import lead_on_record, lead_signs
from benchstation.bench.onboarding.changing import FoundedError, SetUpPlan, plan_set_up
from benchstation.bench.onboarding.set_up import read_set_up
from benchstation.config import set_up
from benchstation.config.settings import default_settings_path, load_settings
from benchstation.driver_api.errors import StationError
from benchstation.store.engine import Store


def run(options: argparse.Namespace, say: Callable[[str], None]) -> int:
    """Print an example, found a bench, or change one that is founded; ``say`` tells of it."""
    if options.example:
        say(set_up.example().removesuffix("\n"))
        return 0
    if options.file is None:
        raise StationError("no file is given.", advice="Start from 'set-up --example'.")
    before = load_settings()
    settings, events = read_set_up(options.file, before)
    with founded_store(before, settings) as store:
        if store is not None:
            plan = plan_set_up(store, before, settings, events)
            written = _change(store, plan, options, say)
    if store is None:
        written = write_bench(settings, events)
    path = default_settings_path()
    say(f"new facts on record: {written}\nrecords: {settings.data_path}\nsettings: {path}")
    return 0


def _change(
    store: Store, plan: SetUpPlan, options: argparse.Namespace, say: Callable[[str], None]
) -> int:
    for note in plan.notes:
        say(note)
    if not plan.changes:
        return 0
    if not sys.stdin.isatty():
        raise FoundedError(
            f"this bench is founded, and {len(plan.changes)} things would change.",
            where=str(options.file),
            advice="Run it at a terminal: a lead confirms each and signs with the PIN.",
        )
    _confirm(plan)
    name = options.person or input("The lead who signs: ")
    lead = lead_on_record(store, name)
    reason = options.reason or input("Why, in a few words: ")
    lead_signs(store, name, getpass.getpass(f"PIN of {lead.name}: "), datetime.now(UTC))
    return write_founded(store, plan, lead, reason)


def _confirm(plan: SetUpPlan) -> None:
    """Ask for each difference; one that is not wanted leaves all as it is."""
    for change in plan.changes:
        if input(f"{change}\n  Change it? [y/N] ").strip().casefold() not in ("y", "yes"):
            raise FoundedError(
                "that was not confirmed; nothing was changed.",
                where=change,
                advice="Take it out of the file, and run it again.",
            )
