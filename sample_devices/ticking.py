"""What the virtual devices share: they measure on their own beat, whoever asks and when."""

from abc import ABC, abstractmethod

from sample_devices.bench_model import BenchModel

KEPT_S = 30.0
"""A line keeps no more than so much of what nobody read: after an hour the rest is gone."""


class TickingDevice(ABC):
    """Measures the model every ``interval_s``; a device that ``streams`` sends each frame too."""

    def __init__(self, model: BenchModel, rate_hz: float) -> None:
        self.model = model
        self.interval_s = 1.0 / rate_hz
        self._due: float | None = None

    @property
    @abstractmethod
    def streams(self) -> bool:
        """Return True when it sends by itself."""

    @abstractmethod
    def frame(self) -> bytes:
        """Return the frame of the reading now."""

    @abstractmethod
    def _measure(self) -> None:
        """Take the model's state as the reading now."""

    def output(self, t: float) -> bytes:
        """Return the frames that are due up to time ``t``."""
        if self._due is None:
            self._due = t
        if t - self._due > KEPT_S:
            beats = int((t - self._due - KEPT_S) / self.interval_s)
            self._due += beats * self.interval_s
        sent = []
        while self._due <= t:
            self.model.advance(self._due)
            self._measure()
            if self.streams:
                sent.append(self.frame())
            self._due += self.interval_s
        return b"".join(sent)
