"""``benchstation export-all``: everything of this bench, readable without the program."""

from datetime import UTC, datetime
from pathlib import Path

from benchstation.cli.trust import records_of_bench
from benchstation.config.settings import default_settings_path, own_profiles
from benchstation.reports.export_all import Progress, export_all
from benchstation.store.engine import open_store


def export(folder: Path, progress: Progress, *, pdf: bool) -> str:
    """Write the folder; return what is said of it."""
    with open_store(records_of_bench(), "", read_only=True) as store:
        now = datetime.now(UTC)
        done = export_all(store, folder.absolute(), settings_files(), now, pdf=pdf,
                          progress=progress)  # fmt: skip
    return (
        f"{done.folder}: {done.entries} entries, {done.units} filed units, {done.files} files; "
        "README.txt there says what each is"
    )


def settings_files() -> dict[str, Path]:
    """Return the settings and the bench's own profiles, by their place in a folder."""
    settings, profiles = default_settings_path(), own_profiles()
    found = {"settings/settings.json": settings} if settings.is_file() else {}
    own = sorted(profiles.glob("*.toml")) if profiles.is_dir() else []
    return {**found, **{f"settings/profiles/{file.name}": file for file in own}}
