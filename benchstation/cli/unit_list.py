"""``benchstation list``: all that a search of the records finds, as a list or as whole records."""

from datetime import UTC, datetime
from pathlib import Path

from benchstation.cli.trust import records_of_bench
from benchstation.config.settings import load_settings
from benchstation.screens.records.listing import write_list, write_records
from benchstation.screens.records.page import Records
from benchstation.store.engine import open_store


def list_units(question: str, folder: Path, *, records: bool) -> str:
    """Write the files and return what is said of them; the records are only read."""
    now, place = datetime.now(UTC), folder.absolute()
    with open_store(records_of_bench(), "", read_only=True) as store:
        found = Records(store)
        if records:
            return f"{write_records(found, question, place, now)}: a filed unit a line"
        shop, by = load_settings().shop or store.bench, "the command line"
        made = write_list(found, question, place, shop=shop, person=by, now=now)
    paths = ", ".join(str(path) for path in made.paths)
    units = "one unit" if made.fact.units == 1 else f"{made.fact.units} units"
    return f"{paths}: {units}, up to {'; '.join(made.fact.heads)}"
