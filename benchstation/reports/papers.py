"""What left the program on paper or as a file, for the record."""

import hashlib
from pathlib import Path

from benchstation.domain.events import PaperWritten

CERTIFICATE, DATA_SHEET = "certificate", "data sheet"
_SORTS = (
    ("_label.pdf", "label"),
    ("_waits.pdf", "label"),
    ("_data_sheet.pdf", DATA_SHEET),
    (".json", "record"),
)


def written(unit_id: str, path: Path) -> PaperWritten:
    """Return the fact that this file of a unit was written, with the hash of its bytes."""
    what = next((sort for end, sort in _SORTS if path.name.endswith(end)), CERTIFICATE)
    return PaperWritten(unit_id, what, hashlib.sha256(path.read_bytes()).hexdigest())
