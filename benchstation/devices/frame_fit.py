"""A profile held against frames one by one: which of them it reads, as what, and where one differs.

Pure: nothing is opened or sent. A profile that is being written is tried with it on the frames just
heard, and a finished one on a transcript.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from benchstation.devices.profile import Profile
from benchstation.driver_api.framing import DelimitedFramer, LineFramer
from benchstation.driver_api.reading import Fault, FaultKind, Item, Reading

SPOILT = (FaultKind.BAD_FRAME, FaultKind.BAD_CHECKSUM, FaultKind.UNKNOWN_UNIT)
"""What a frame that is not the profile's, or is damaged, gives."""


@dataclass(frozen=True, slots=True)
class FrameFit:
    """What a profile makes of one frame.

    ``place`` is the first byte of the frame, from 0, that is not as the profile says; ``None``
    where all fits, or where no single place is to blame.
    """

    frame: bytes
    items: tuple[Item, ...]
    words: str
    place: int | None = None

    @property
    def fits(self) -> bool:
        """Return True when the profile reads every value of it."""
        return bool(self.items) and all(isinstance(item, Reading) for item in self.items)

    @property
    def understood(self) -> bool:
        """Return True when it fits, or says that the device has no value: overload, an error."""
        return bool(self.items) and not any(
            isinstance(item, Fault) and item.kind in SPOILT for item in self.items
        )


def frames_in(data: bytes, end: bytes, start: bytes = b"") -> list[bytes]:
    """Return the whole frames of what was heard, each with its ends; a first part is left out.

    Without a ``start`` the first frame may have begun before the listening did, and is left out.
    """
    if start:
        return DelimitedFramer(start, end[-1:]).push(data)
    return LineFramer(end).push(data)[1:]


def fit_frames(profile: Profile, frames: Sequence[bytes]) -> tuple[FrameFit, ...]:
    """Return what a profile makes of each frame, in their order.

    Each frame is whole, with its ends. Raises :class:`StationError` in one line for a profile that
    cannot be used.
    """
    driver = profile.make_driver()
    if frames:
        # A line of any length is joined at a line's end: this one is only that end.
        driver.feed(frames[0], 0.0)
    return tuple(_fit(profile, frame, driver.feed(frame, 0.0)) for frame in frames)


def _fit(profile: Profile, frame: bytes, items: Sequence[Item]) -> FrameFit:
    if not items:
        return FrameFit(frame, (), "no whole frame: its start or end is not the profile's")
    if sum(len(item.raw) for item in items if item.raw == frame) == 0:
        return FrameFit(frame, tuple(items), "it is cut otherwise than the profile says")
    places = [item.place for item in items if isinstance(item, Fault) and item.place is not None]
    words = "; ".join(item_words(profile, item) for item in items)
    return FrameFit(frame, tuple(items), words, min(places, default=None))


def item_words(profile: Profile, item: Item) -> str:
    """Return what a frame says: a reading as the device shows it, a fault, a reply."""
    if isinstance(item, Reading):
        flags = {True: ", steady", False: ", moving", None: ""}[item.stable]
        net = {True: ", net", False: ", gross", None: ""}[item.net]
        return f"{profile.in_unit(item)}{flags}{net}"
    if isinstance(item, Fault):
        return f"{item.kind}: {item.detail}" if item.detail else str(item.kind)
    return f"reply to {item.command}: {'accepted' if item.accepted else 'refused'}"
