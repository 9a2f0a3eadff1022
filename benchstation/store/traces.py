"""Samples of a pour or a charge as one lossless block of bytes, named by its SHA-256.

Layout: magic, length of the header, header (canonical JSON), then one zlib stream per column: the
times, then each channel in the header's order. Values that a device made from decimal steps are
kept as whole steps: first differences, bytes shuffled by significance, zlib. A step form is chosen
only when it gives back every value bit by bit; anything else is kept as shuffled float64.
"""

import hashlib
import json
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any, Final

import numpy as np
import rfc8785
from numpy.typing import NDArray

from benchstation.store.errors import NotStorableError, StoreCorruptError
from benchstation.store.schema import utc_from, utc_text

Times = NDArray[np.int64]
Values = NDArray[np.float64]
Bytes = NDArray[np.uint8]

MAGIC: Final = b"BSTRACE1"
MOST_SAMPLES: Final = 20_000_000
MOST_HEADER_BYTES: Final = 1_000_000
# Noise does not compress: level 6 saves a twentieth of the size and takes three times as long.
LEVEL: Final = 1
PROBE_SAMPLES: Final = 64

# Devices speak decimals in these units; a reading is number / 10^decimals * factor.
_FACTORS: Final = (1.0, 1e-3, 1e5, 1e3, 1e2, 1e-6, 6894.757293168361, 0.45359237, 0.028349523125)
_MOST_DECIMALS: Final = 7
# Above this a whole number of steps is no longer exact in a float.
_MOST_STEPS: Final = 2.0**52


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Samples on one time axis.

    ``t_us``: whole microseconds after ``t0_utc`` (n,); ``channels``: SI values by name, each (n,);
    a gap is not-a-number. ``units``: the SI unit of each channel, for readers of the file.
    """

    t_us: Times
    channels: Mapping[str, Values]
    units: Mapping[str, str]
    t0_utc: datetime
    note: str = ""
    _made: list[tuple[bytes, str]] = field(default_factory=list, init=False, repr=False)

    @property
    def encoded(self) -> bytes:
        """Return the stored form; made once, so the arrays must not change after."""
        return self._stored()[0]

    @property
    def sha256(self) -> str:
        """Return the name of the trace in events and in the store."""
        return self._stored()[1]

    def stored_as(self, data: bytes, sha256: str) -> "Trace":
        """Return itself, with the bytes it was read from: another zlib may pack it otherwise."""
        self._made[:] = [(data, sha256)]
        return self

    def _stored(self) -> tuple[bytes, str]:
        if not self._made:
            data = encode(self)
            self._made.append((data, hashlib.sha256(data).hexdigest()))
        return self._made[0]


def encode(trace: Trace) -> bytes:
    """Return stored form. Raises :class:`NotStorableError` when the trace is not well formed."""
    _check(trace)
    streams: list[bytes] = []
    columns: list[dict[str, Any]] = [_pack_steps(trace.t_us, streams)]
    for name, values in trace.channels.items():
        columns.append({"name": name, "unit": trace.units[name], **_pack_values(values, streams)})
    header = rfc8785.dumps(
        {
            "version": 1,
            "n": len(trace.t_us),
            "t0_utc": utc_text(trace.t0_utc),
            "note": trace.note,
            "columns": columns,
        }
    )
    return b"".join([MAGIC, len(header).to_bytes(4, "big"), header, *streams])


def decode(data: bytes, sha256: str) -> Trace:
    """Return the trace back. Raises :class:`StoreCorruptError` when it is not what was stored."""
    if hashlib.sha256(data).hexdigest() != sha256:
        raise _damaged(sha256, "its bytes do not match its name")
    try:
        return _decode(data).stored_as(data, sha256)
    except (ValueError, KeyError, TypeError, IndexError, zlib.error) as error:
        raise _damaged(sha256, "its content cannot be read", repr(error)) from error


def _check(trace: Trace) -> None:
    columns = (trace.t_us, *trace.channels.values())
    if trace.t_us.dtype != np.int64 or any(c.dtype != np.float64 for c in columns[1:]):
        raise _refused("times must be 64-bit whole microseconds and values 64-bit floats.")
    if any(c.ndim != 1 or len(c) != len(trace.t_us) for c in columns):
        raise _refused("the channels of a trace must be as long as its times.")
    if len(trace.t_us) > MOST_SAMPLES:
        raise _refused(f"a trace may have {MOST_SAMPLES} samples, this one is longer.")
    if trace.channels.keys() != trace.units.keys():
        raise _refused("every channel of a trace needs its unit.")
    if trace.t0_utc.tzinfo is None:
        raise _refused("the start of a trace needs a time zone.")


def _decode(data: bytes) -> Trace:
    size = int.from_bytes(data[len(MAGIC) : len(MAGIC) + 4], "big")
    start = len(MAGIC) + 4
    if data[: len(MAGIC)] != MAGIC or size > MOST_HEADER_BYTES:
        raise ValueError("no trace")
    header = json.loads(data[start : start + size])
    n = int(header["n"])
    if header["version"] != 1 or not 0 <= n <= MOST_SAMPLES:
        raise ValueError("unknown version or length")
    columns = header["columns"]
    ends = np.cumsum([start + size, *(int(column["bytes"]) for column in columns)])
    if ends[-1] != len(data) or min(int(c["bytes"]) for c in columns) < 0:
        raise ValueError("too short or too long")
    parts = [data[a:b] for a, b in pairwise(ends.tolist())]
    t_us = _unpack_steps(columns[0], parts[0], n)
    named = list(zip(columns[1:], parts[1:], strict=True))
    return Trace(
        t_us=t_us,
        channels={c["name"]: _unpack_values(c, part, n) for c, part in named},
        units={c["name"]: c["unit"] for c, _ in named},
        t0_utc=utc_from(header["t0_utc"]).astimezone(UTC),
        note=header["note"],
    )


def _pack_values(values: Values, streams: list[bytes]) -> dict[str, Any]:
    found = _steps(values)
    if found is not None:
        steps, decimals, factor = found
        packed = _pack_steps(steps, streams)
        return {**packed, "codec": "steps", "decimals": decimals, "factor": factor}
    streams.append(zlib.compress(_shuffled(values.view(np.uint8), 8), LEVEL))
    return {"codec": "float64", "bytes": len(streams[-1])}


def _unpack_values(column: dict[str, Any], data: bytes, n: int) -> Values:
    if column["codec"] == "steps":
        return _from_steps(_unpack_steps(column, data, n), column["decimals"], column["factor"])
    if column["codec"] != "float64":
        raise ValueError("unknown codec")
    return _unshuffled(_inflated(data, n * 8), 8).view(np.float64)


def _pack_steps(steps: Times, streams: list[bytes]) -> dict[str, Any]:
    # Differences may wrap round; summing them up wraps back to the same numbers.
    differences = np.diff(steps, prepend=steps.dtype.type(0))
    low, high = (int(differences.min()), int(differences.max())) if len(steps) else (0, 0)
    width = next(w for w in (1, 2, 4, 8) if -(1 << 8 * w - 1) <= low and high < 1 << 8 * w - 1)
    narrow = differences.astype(f"<i{width}")
    streams.append(zlib.compress(_shuffled(narrow.view(np.uint8), width), LEVEL))
    return {"width": width, "bytes": len(streams[-1])}


def _unpack_steps(column: dict[str, Any], data: bytes, n: int) -> Times:
    width = column["width"]
    if width not in (1, 2, 4, 8):
        raise ValueError("unknown width")
    narrow = _unshuffled(_inflated(data, n * width), width).view(f"<i{width}")
    return np.cumsum(narrow.astype(np.int64), dtype=np.int64)


def _steps(values: Values) -> tuple[Times, int, float] | None:
    """Find the decimals and the factor that give back every value bit by bit."""
    # Samples spread over the whole trace; a wrong form is thrown out by a few of them.
    probe = values[:: max(1, len(values) // PROBE_SAMPLES)]
    for factor in _FACTORS:
        for decimals in range(_MOST_DECIMALS + 1):
            if _exact_steps(probe, decimals, factor) is None:
                continue
            steps = _exact_steps(values, decimals, factor)
            if steps is not None:
                return steps, decimals, factor
    return None


def _exact_steps(values: Values, decimals: int, factor: float) -> Times | None:
    with np.errstate(over="ignore"):
        scaled = np.rint(values / factor * 10.0**decimals)
    if not bool(np.all(np.abs(scaled) <= _MOST_STEPS)):
        return None
    steps = scaled.astype(np.int64)
    back = _from_steps(steps, decimals, factor)
    # Compared as bits, so that -0.0 is not taken for 0.0.
    return steps if np.array_equal(back.view(np.int64), values.view(np.int64)) else None


def _from_steps(steps: Times, decimals: int, factor: float) -> Values:
    return steps.astype(np.float64) / 10.0**decimals * factor


def _shuffled(flat: Bytes, width: int) -> bytes:
    return np.ascontiguousarray(flat.reshape(-1, width).T).tobytes()


def _unshuffled(data: bytes, width: int) -> Bytes:
    flat = np.frombuffer(data, dtype=np.uint8)
    return np.ascontiguousarray(flat.reshape(width, -1).T).reshape(-1)


def _inflated(data: bytes, size: int) -> bytes:
    # Never inflate beyond what the header promised: a damaged block must not fill the memory.
    inflater = zlib.decompressobj()
    plain = inflater.decompress(data, size) if size else inflater.decompress(data, 1)
    if len(plain) != size or inflater.unconsumed_tail:
        raise ValueError("a column is too short or too long")
    return plain


def _refused(what: str) -> NotStorableError:
    return NotStorableError(what, where="trace", advice="This is a mistake of the caller.")


def _damaged(sha256: str, why: str, detail: str = "") -> StoreCorruptError:
    return StoreCorruptError(
        f"a trace is damaged: {why}.",
        where=f"trace {sha256[:12]}",
        advice="The judgement in the record stands by itself; look for the trace in a backup.",
        detail=detail,
    )
