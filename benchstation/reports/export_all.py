"""All of a bench's records in a folder, readable without this program.

The folder is written under another name and takes its own when it is whole. An export that was
stopped is continued: what is there is kept, and all of it is of the moment at which it was begun.
"""

import hashlib
import json
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from benchstation import __version__
from benchstation.atomic_file import part_of, private_folder, put_in_place, write_private
from benchstation.domain.events import PaperWritten
from benchstation.driver_api.errors import StationError
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record, signed_json
from benchstation.reports.export_readme import README
from benchstation.reports.export_schemas import schemas
from benchstation.reports.papers import written
from benchstation.store import export_rows
from benchstation.store.chain_store import ChainStore
from benchstation.store.export_rows import Chain

FORM = 1
ENTRIES_A_FILE = 50_000
UNITS_A_FILE = 500
TRACES_A_FILE = 1_000
BEGUN = "begun.json"
Progress = Callable[[str, int, int], None]
_ENDS = {b"\xff\xd8\xff": "jpg", b"\x89PNG": "png"}


@dataclass(frozen=True, slots=True)
class Exported:
    """What was written, and where."""

    folder: Path
    entries: int
    units: int
    files: int
    papers: Sequence[PaperWritten] = ()
    """The certificates among them."""


def export_all(
    store: ChainStore,
    folder: Path,
    beside: Mapping[str, Path],
    utc: datetime,
    *,
    pdf: bool = False,
    progress: Progress | None = None,
) -> Exported:
    """Write everything into ``folder``, which must not be there yet.

    ``beside``: other files to copy, by their place in the folder, such as the settings. Raises
    ``StationError``.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StationError(
            "this folder is there already, and not empty.",
            where=str(folder),
            advice="Nothing was changed. Name a new folder.",
        )
    try:
        return _Export(store, folder, utc, progress).run(beside, pdf=pdf)
    except OSError as error:
        raise StationError(
            f"the export cannot be written ({error.strerror}).",
            where=str(part_of(folder)),
            advice="See that there is room and that you may write; then run it again: it "
            "continues where it was.",
            detail=repr(error),
        ) from error


class _Export:
    def __init__(
        self, store: ChainStore, folder: Path, utc: datetime, progress: Progress | None
    ) -> None:
        self._store, self._folder, self._part = store, folder, part_of(folder)
        self._progress = progress
        self._papers: list[PaperWritten] = []
        self._begun = self._begin(utc)
        self._chains = [Chain(**chain) for chain in self._begun["chains"]]

    def run(self, beside: Mapping[str, Path], *, pdf: bool) -> Exported:
        """Write what is not there yet, then the index, and give the folder its name."""
        for name, schema in schemas().items():
            self._lines(f"schema/{name}", [json.dumps(schema, indent=1).encode()])
        for place, file in beside.items():
            self._lines(place, [file.read_bytes()])
        units = 0
        for chain in self._chains:
            self._journal(chain)
            units += self._records(chain, pdf=pdf)
        self._content()
        self._lines("README.txt", [README.encode()])
        files = self._index(units)
        if self._folder.is_dir():
            self._folder.rmdir()
        self._part.rename(self._folder)
        (self._folder / BEGUN).unlink()
        return Exported(
            self._folder, sum(c.entries for c in self._chains), units, files, self._papers
        )

    def _begin(self, utc: datetime) -> dict[str, Any]:
        """Return what an export that was stopped began with, or begin now."""
        private_folder(self._part)
        file = self._part / BEGUN
        if file.is_file():
            begun: dict[str, Any] = json.loads(file.read_bytes())
            for chain in begun["chains"]:
                if not export_rows.still_begins(self._store, Chain(**chain)):
                    raise StationError(
                        "an export of other records was begun here.",
                        where=str(self._part),
                        advice="Nothing was changed. Remove that folder, or name another.",
                    )
            return begun
        chains = [asdict(chain) for chain in export_rows.chains(self._store)]
        begun = {"begun_utc": utc.isoformat(), "chains": chains}
        write_private(file, json.dumps(begun, indent=1).encode())
        return begun

    def _journal(self, chain: Chain) -> None:
        for number, after in enumerate(range(0, chain.entries, ENTRIES_A_FILE), 1):
            self._tell("entries", after, chain.entries)
            place = f"journal/{chain.bench}-{number:05}.jsonl"
            to = after + ENTRIES_A_FILE
            self._lines(place, export_rows.lines(self._store, chain, after, to))
        heads = export_rows.heads(self._store, chain)
        if heads:
            self._lines(f"journal/{chain.bench}.heads.jsonl", map(_line, heads))

    def _records(self, chain: Chain, *, pdf: bool) -> int:
        units = export_rows.filed_units(self._store, chain)
        for number, start in enumerate(range(0, len(units), UNITS_A_FILE), 1):
            these = units[start : start + UNITS_A_FILE]
            self._tell("records", start, len(units))
            place = f"records/{chain.bench}-{number:05}.jsonl"
            self._lines(place, (_line(signed_json(filed_record(self._store, u))) for u in these))
        for done, unit in enumerate(units if pdf else ()):
            self._tell("papers", done, len(units))
            file = self._part / "papers" / f"{chain.bench}-{_file_name(unit)}.pdf"
            if not file.exists():
                private_folder(file.parent)
                write_certificate(filed_record(self._store, unit), file)
            self._papers.append(written(unit, file))
        return len(units)

    def _content(self) -> None:
        for sort in ("traces", "photos"):
            names = export_rows.content_names(self._store, sort)
            for done, name in enumerate(names):
                self._tell(sort, done, len(names))
                data = export_rows.content(self._store, sort, name)
                end = "bin" if sort == "traces" else _picture(data)
                self._lines(f"content/{sort}/{name}.{end}", [data])
        names = export_rows.content_names(self._store, "traces")
        for number, start in enumerate(range(0, len(names), TRACES_A_FILE), 1):
            these = names[start : start + TRACES_A_FILE]
            lines = (_line(self._trace(name)) for name in these)
            self._lines(f"content/traces-{number:05}.jsonl", lines)

    def _trace(self, name: str) -> dict[str, Any]:
        trace = self._store.get_trace(name)
        return {
            "sha256": name,
            "start_utc": trace.t0_utc.isoformat(),
            "note": trace.note,
            "units": dict(trace.units),
            "microseconds": trace.t_us.tolist(),
            "channels": {
                channel: [float(v) if np.isfinite(v) else None for v in values]
                for channel, values in trace.channels.items()
            },
        }

    def _index(self, units: int) -> int:
        """Write what is here, with the hash of each file; gives their number."""
        files = sorted(f for f in self._part.rglob("*") if f.is_file() and f.name != BEGUN)
        listed = [
            {
                "path": file.relative_to(self._part).as_posix(),
                "bytes": file.stat().st_size,
                "sha256": _sha256(file),
            }
            for file in files
            if file.name != "index.json"
        ]
        index = {
            "form": FORM,
            "begun_utc": self._begun["begun_utc"],
            "program": f"benchstation {__version__}",
            "chains": self._begun["chains"],
            "units": units,
            "files": listed,
        }
        write_private(self._part / "index.json", json.dumps(index, indent=1).encode())
        return len(listed) + 1

    def _lines(self, place: str, parts: Iterable[bytes]) -> None:
        """Write a file whole, unless an export that was stopped did."""
        file = self._part / place
        if file.exists():
            return
        private_folder(file.parent)
        part = part_of(file)
        part.unlink(missing_ok=True)
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with open(descriptor, "wb") as out:
            for piece in parts:
                out.write(piece)
        put_in_place(part, file)

    def _tell(self, word: str, done: int, total: int) -> None:
        if self._progress is not None:
            self._progress(word, done, total)


def _line(data: Mapping[str, Any]) -> bytes:
    return json.dumps(data, ensure_ascii=False, allow_nan=False).encode() + b"\n"


def _picture(data: bytes) -> str:
    return next((end for start, end in _ENDS.items() if data.startswith(start)), "bin")


def _file_name(unit: str) -> str:
    """Return a unit's id as it may stand in a file's name."""
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "_" for c in unit)


def _sha256(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()
