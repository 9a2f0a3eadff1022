"""The readings since the valve was last at work, as a bounded number of means of neighbours."""

import math
from array import array

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

MOST = 1024
"""Means that are kept; when there are so many, neighbours are joined two by two.

A mean then spans less than a 500th of the record: over a time constant of a quarter of the record
an exponential bends by 3e-6 of its height within one, far less than any gauge shows.
"""


class QuietReadings:
    """Takes in readings one by one at a bounded cost, and gives what a settling fit needs.

    Each mean is of ``each`` readings, 1 until there are many; the last ones that do not yet make up
    half a mean are left out of :meth:`means`. The scatter from reading to reading is kept beside
    them, since means hide it.
    """

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        """Forget all readings."""
        self.each = 1
        self.count = 0
        self._at, self._value, self._squares = array("d"), array("d"), array("d")
        self._part = (0, 0.0, 0.0, 0.0)
        self._last, self._newest = math.nan, 0.0

    def take(self, at: float, value: float) -> None:
        """Take one reading; one that is not a number is left out."""
        if not math.isfinite(value):
            return
        square = 0.0 if self.count == 0 else (value - self._last) ** 2
        self._last, self._newest = value, at
        self.count += 1
        n, sum_at, sum_value, squares = self._part
        self._part = (n + 1, sum_at + at, sum_value + value, squares + square)
        if self._part[0] == self.each:
            self._close()

    def _close(self) -> None:
        n, sum_at, sum_value, squares = self._part
        self._at.append(sum_at / n)
        self._value.append(sum_value / n)
        self._squares.append(squares)
        self._part = (0, 0.0, 0.0, 0.0)
        if len(self._at) == MOST:
            self.each *= 2
            self._at = array("d", _pairs(self._at).mean(axis=1))
            self._value = array("d", _pairs(self._value).mean(axis=1))
            self._squares = array("d", _pairs(self._squares).sum(axis=1))

    def means(self, start: int = 0) -> tuple[FloatArray, FloatArray, float]:
        """Return times (m,), means (m,) and the standard deviation of one reading, from a mean on.

        The deviation is that of successive differences, blind to a smooth trend (von Neumann).
        """
        at, value, squares = (
            np.array(part[start:]) for part in (self._at, self._value, self._squares)
        )
        n, sum_at, sum_value, square = self._part
        readings = len(at) * self.each + n
        total = float(squares.sum()) + square
        if start == 0:
            readings -= 1
        noise = math.sqrt(total / (2.0 * readings)) if readings > 0 else math.nan
        if 2 * n > self.each:
            at, value = np.append(at, sum_at / n), np.append(value, sum_value / n)
        return at, value, noise

    @property
    def seconds(self) -> float:
        """Return how long ago the first reading came that is kept, counted from the last."""
        return self._newest - (self._at[0] if self._at else self._newest)

    def __len__(self) -> int:
        """Return how many whole means there are."""
        return len(self._at)

    def drop(self, means: int) -> None:
        """Forget the first so many means."""
        del self._at[:means], self._value[:means], self._squares[:means]
        self.count -= means * self.each


def _pairs(values: "array[float]") -> FloatArray:
    return np.frombuffer(values, dtype=np.float64).reshape(-1, 2)
