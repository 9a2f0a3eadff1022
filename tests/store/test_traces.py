from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from benchstation.store.errors import NotStorableError, StoreCorruptError
from benchstation.store.traces import Trace, decode, encode

T0 = datetime(2026, 3, 4, 9, 30, 0, 123456, tzinfo=UTC)

any_floats = st.floats(allow_nan=True, allow_infinity=True, allow_subnormal=True)
decimals = st.tuples(
    st.integers(-200_000, 200_000), st.integers(0, 5), st.sampled_from([1.0, 1e-3, 1e5, 6894.757])
).map(lambda t: t[0] / 10.0 ** t[1] * t[2])


@st.composite
def traces(draw):
    n = draw(st.integers(0, 40))
    t_us = draw(hnp.arrays(np.int64, n, elements=st.integers(-(2**63), 2**63 - 1)))
    names = draw(
        st.lists(st.text(st.characters(codec="utf-8"), max_size=4), max_size=3, unique=True)
    )
    kind = draw(st.sampled_from([any_floats, decimals]))
    channels = {name: draw(hnp.arrays(np.float64, n, elements=kind)) for name in names}
    return Trace(t_us, channels, dict.fromkeys(names, "Pa"), T0, draw(st.text(max_size=3)))


def same(one, other):
    assert np.array_equal(one.t_us, other.t_us)
    assert list(one.channels) == list(other.channels)
    for name, values in one.channels.items():
        # As bits: not-a-number and -0.0 come back as they went.
        assert np.array_equal(values.view(np.int64), other.channels[name].view(np.int64))
    assert (dict(one.units), one.t0_utc, one.note) == (dict(other.units), other.t0_utc, other.note)


@given(traces())
@settings(max_examples=200)
def test_every_sample_comes_back_bit_by_bit(trace):
    same(trace, decode(trace.encoded, trace.sha256))


def readings(n=20_000, **changed):
    rng = np.random.default_rng(3)
    t_us = np.arange(n, dtype=np.int64) * 10_000
    shown = np.round(np.linspace(0, 222.1, n) + rng.normal(0, 0.05, n), 1) * 1e-3
    made = {"t_us": t_us, "channels": {"kg": shown}, "units": {"kg": "kg"}, "t0_utc": T0}
    return Trace(**{**made, **changed})


def test_decimal_readings_are_kept_small():
    """20,000 samples with their times are 320 kB as plain numbers; a quarter of it is enough."""
    assert len(readings().encoded) < 80_000


def test_the_same_samples_have_the_same_name():
    assert readings().sha256 == readings().sha256 != readings(note="x").sha256


def test_a_later_read_of_the_name_costs_nothing():
    trace = readings()
    assert trace.encoded is trace.encoded


@pytest.mark.parametrize("where", [0, 9, 13, 60, 200, -1])
@pytest.mark.parametrize("how", ["flip", "cut", "add"])
def test_a_damaged_trace_is_refused(where, how):
    trace = readings(100)
    data = bytearray(trace.encoded)
    if how == "flip":
        data[where] ^= 1
    elif how == "cut":
        del data[where]
    else:
        data.insert(where, 0)
    with pytest.raises(StoreCorruptError, match="trace is damaged"):
        decode(bytes(data), trace.sha256)


@given(st.binary(max_size=200), st.integers(0, 250), st.booleans())
def test_bytes_that_were_never_a_trace_are_refused_whatever_their_name(junk, at, keep):
    import hashlib

    data = readings(100).encoded if keep else b""
    data = data[:at] + junk + data[at + len(junk) + 1 :]
    with pytest.raises(StoreCorruptError):
        decode(data, hashlib.sha256(data).hexdigest())


def test_a_block_that_swells_is_not_inflated():
    """A column may not hold more than its header promises."""
    import zlib

    from benchstation.store.traces import _inflated

    bomb = zlib.compress(bytes(10_000_000))
    with pytest.raises(ValueError, match="too short or too long"):
        _inflated(bomb, 8)


@pytest.mark.parametrize(
    "changed",
    [
        {"t_us": np.arange(20_000, dtype=np.int32)},
        {"t_us": np.arange(19_999, dtype=np.int64)},
        {"t_us": np.zeros((20_000, 1), dtype=np.int64)},
        {"channels": {"kg": np.zeros(20_000, dtype=np.float32)}},
        {"channels": {"kg": np.zeros(3)}},
        {"units": {}},
        {"units": {"kg": "kg", "pa": "Pa"}},
        {"t0_utc": datetime(2026, 3, 4)},
    ],
)
def test_what_is_no_trace_is_refused(changed):
    with pytest.raises(NotStorableError):
        encode(readings(**changed))
