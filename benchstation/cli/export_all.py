"""``benchstation export-all``: everything of this bench, readable without the program."""

from datetime import UTC, datetime
from pathlib import Path

from benchstation.cli.noting import note_papers, own_trust
from benchstation.cli.trust import records_of_bench
from benchstation.config.settings import files_beside
from benchstation.reports.export_all import Progress, export_all
from benchstation.store.engine import open_store


def export(folder: Path, progress: Progress, *, pdf: bool) -> str:
    """Write the folder; return what is said of it."""
    beside = {f"settings/{name}": file for name, file in files_beside().items()}
    file = records_of_bench()
    with open_store(file, "", read_only=True, trust=own_trust()) as store:
        place, now = folder.absolute(), datetime.now(UTC)
        done = export_all(store, place, beside, now, pdf=pdf, progress=progress)
    return (
        f"{done.folder}: {done.entries} entries, {done.units} filed units, {done.files} files; "
        "README.txt there says what each is"
        f"{note_papers(file, done.papers)}"
    )
