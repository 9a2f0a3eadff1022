"""A recorded line as a device: every byte at its time, once or over and over."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_devices.recorded import RecordedDevice


@given(
    st.lists(st.tuples(st.floats(0, 5), st.binary(min_size=1)), min_size=1),
    st.lists(st.floats(0, 2), min_size=1),
    st.sampled_from([0.5, 1.0, 20.0]),
)
def test_what_is_due_is_sent_and_nothing_else(parts, steps, speed):
    parts.sort(key=lambda part: part[0])
    device = RecordedDevice(parts, speed)
    t, sent = 100.0, device.output(100.0)
    for step in steps:
        t += step
        sent += device.output(t)
        due = b"".join(data for at, data in parts if at <= (t - 100.0) * speed)
        assert sent == due
    assert sent + device.output(t + 20.0) == b"".join(data for _, data in parts)
    assert device.ended
    assert device.output(t + 40.0) == b""
    assert device.receive(b"W\r\n", t) == b""


def test_over_and_over():
    device = RecordedDevice([(0.0, b"a"), (1.0, b"b")], again=True)
    assert [device.output(float(t)) for t in range(6)] == [b"a", b"b", b"a", b"b", b"a", b"b"]


@pytest.mark.parametrize(("chunks", "speed"), [([], 1.0), ([(0.0, b"a")], 0.0)])
def test_nothing_to_send(chunks, speed):
    with pytest.raises(ValueError):
        RecordedDevice(chunks, speed)
