"""What goes wrong on a real line, laid over any virtual device, by a seed.

Damage happens to frames, which end in ``end``; a device that sends no such byte has each of its
outputs taken for one frame.
"""

import random
from dataclasses import dataclass

from sample_devices.host import Device

STEADY_MARKS = {
    "scale-status-first": (b"US,", b"ST,"),
    "scale-mark-while-moving": (b"?\r\n", b" \r\n"),
    "scale-unit-when-stable": (b"     \r\n", b"g    \r\n"),
    "scale-request-reply": (b"W D", b"W S"),
}
"""What a moving scale of each shape sends, and what it would send if it were steady in grams."""


@dataclass(frozen=True, slots=True)
class FaultRates:
    """Probability of each fault for one frame, 0 to 1."""

    noise: float = 0.0
    """One to four random bytes somewhere in the frame are overwritten."""
    extra: float = 0.0
    """One to four random bytes are put in."""
    truncated: float = 0.0
    """The frame stops short of its end, which comes."""
    merged: float = 0.0
    """The end is lost: the frame runs into the next."""
    lost: float = 0.0
    """The frame does not come at all."""


class FaultyDevice:
    """A device whose frames suffer; everything else is that of the device inside.

    ``frozen`` repeats the last frame however the world moves. ``stuck_steady`` is the pair of texts
    of :data:`STEADY_MARKS` for a motion flag that never shows.
    """

    def __init__(
        self,
        device: Device,
        seed: int,
        rates: FaultRates | None = None,
        *,
        end: bytes = b"\n",
        stuck_steady: tuple[bytes, bytes] | None = None,
    ) -> None:
        self.device = device
        self.rates = rates or FaultRates()
        self.frozen = False
        self.stuck_steady = stuck_steady
        self.spoilt = 0
        self._end = end
        self._chance = random.Random(seed)  # noqa: S311 - damage that can be had again
        self._last = b""

    def output(self, t: float) -> bytes:
        """Return the bytes due up to ``t``, some of them damaged."""
        return self._suffer(self.device.output(t))

    def receive(self, data: bytes, t: float) -> bytes:
        """Take bytes, give the answer, which may be damaged."""
        return self._suffer(self.device.receive(data, t))

    def _suffer(self, data: bytes) -> bytes:
        *frames, rest = data.split(self._end)
        whole = [frame + self._end for frame in frames]
        if rest:
            whole.append(rest)
        return b"".join(self._one(frame) for frame in whole)

    def _one(self, frame: bytes) -> bytes:
        if self.frozen and self._last:
            frame = self._last
        self._last = frame
        if self.stuck_steady is not None:
            frame = frame.replace(*self.stuck_steady)
        damaged = self._damage(frame)
        self.spoilt += damaged != frame
        return damaged

    def _damage(self, frame: bytes) -> bytes:
        chance, rates = self._chance, self.rates
        if chance.random() < rates.lost:
            return b""
        if chance.random() < rates.noise:
            spoilt = bytearray(frame)
            for _ in range(chance.randint(1, 4)):
                spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
            frame = bytes(spoilt)
        if chance.random() < rates.extra:
            at = chance.randint(0, len(frame))
            frame = frame[:at] + chance.randbytes(chance.randint(1, 4)) + frame[at:]
        if chance.random() < rates.truncated:
            end = self._end if frame.endswith(self._end) else b""
            frame = frame[: chance.randrange(max(1, len(frame) - len(end)))] + end
        if chance.random() < rates.merged:
            frame = frame.removesuffix(self._end)
        return frame
