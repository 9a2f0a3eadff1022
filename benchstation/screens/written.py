"""Writing files where a person says, with words for what the file system refuses."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchstation.driver_api.errors import StationError

SAFE = "; the record itself is safe"


@contextmanager
def writing(folder: Path, what: str = "record", safe: str = SAFE) -> Iterator[None]:
    """Make the folder, and word what the file system refuses."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        raise StationError(
            f"the {what} cannot be written there ({error.strerror}).",
            where=str(folder),
            advice=f"Choose another folder{safe}.",
        ) from error
