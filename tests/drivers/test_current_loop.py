"""Transmitters behind a converter, against the published table of loop currents and classes."""

import pytest

from benchstation.driver_api.errors import OptionError, UnsupportedCommandError
from benchstation.driver_api.reading import Fault, FaultKind, Reading
from drivers.current_loop import CurrentLoopDriver
from tests.reference_rows import rows

FILE = "current_loop.csv"
GAUGE = {"quantity": "pressure", "reference": "gauge"}
TEXT = {
    "driver": "text_line",
    "units": {"mA": 1e-3, "V": 1.0, "mV": 1e-3},
    "fields": [{"kind": "number", "floating_minus": True}, {"kind": "unit"}],
    "poll": "R",
    "commands": {"zero": "Z"},
}
VOLTAGE = {"kind": "voltage", "zero": 0.5, "full": 4.5}
RATIO = {"kind": "ratiometric", "zero": 0.1, "full": 0.9, "supply": 5.0}


def driver(**changes):
    options = {
        "channel": GAUGE,
        "source": TEXT,
        "signal": {"kind": "current"},
        "range": {"low": 0.0, "high": 40e5},
    }
    return CurrentLoopDriver({k: v for k, v in (options | changes).items() if v is not None})


def one(made, text):
    (item,) = made.feed(f"{text}\r\n".encode(), 0.0)
    return item


SCALINGS = rows(FILE, quantity="linear_scaling")
CLASSES = rows(FILE, quantity="NE43_classification")


@pytest.mark.parametrize("reference", SCALINGS, ids=lambda r: r["id"])
def test_the_published_scaling(reference):
    ends = {"low": float(reference["range_low"]), "high": float(reference["range_high"])}
    item = one(driver(range=ends), f"{reference['mA']}mA")
    assert isinstance(item, Reading)
    assert item.value == pytest.approx(float(reference["value"]), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("reference", CLASSES, ids=lambda r: r["id"])
def test_the_published_classes(reference):
    item = one(driver(), f"{reference['mA']}mA")
    wanted = reference["value"]
    if wanted.startswith("valid"):
        assert isinstance(item, Reading)
    else:
        assert isinstance(item, Fault)
        # Past its upper end the pressure may be anything: that is no mere fault of the signal.
        high = "high" in wanted or float(reference["mA"]) > 20.5
        below = FaultKind.DEVICE_ERROR if wanted.startswith("failure") else FaultKind.UNDER_RANGE
        assert item.kind is (FaultKind.OVER_RANGE if high else below)
        assert wanted.replace("(", "").replace(")", "").split()[0] in item.detail


@pytest.mark.parametrize(
    ("signal", "volts"),
    [
        (VOLTAGE, {"0.5": 0.0, "2.5": 20e5, "4.5": 40e5, "0.45": -0.5e5}),
        (RATIO, {"0.5": 0.0, "2.5": 20e5, "4.5": 40e5, "0.45": -0.5e5}),
        ({**RATIO, "supply": 4.9}, {"0.49": 0.0, "2.45": 20e5, "4.41": 40e5}),
        ({"kind": "voltage", "zero": 1.0, "full": 5.0}, {"1.0": 0.0, "3.0": 20e5, "5.0": 40e5}),
    ],
)
def test_volts_and_ratios(signal, volts):
    for text, value in volts.items():
        assert one(driver(signal=signal), f"{text}V").value == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize("signal", [VOLTAGE, RATIO])
@pytest.mark.parametrize(
    ("volts", "kind"),
    [
        ("0.0", FaultKind.DEVICE_ERROR),
        ("0.4", FaultKind.DEVICE_ERROR),
        ("4.75", FaultKind.OVER_RANGE),
        ("5.0", FaultKind.OVER_RANGE),
    ],
)
def test_a_broken_or_shorted_wire_is_a_failure(signal, volts, kind):
    fault = one(driver(signal=signal), f"{volts}V")
    assert fault.kind is kind
    assert fault.detail.startswith("the transmitter's signal is failure")


def test_a_dead_zero_has_to_be_accepted():
    """With 0 to 10 V a broken wire reads as no pressure: nobody may get that unawares."""
    signal = {"kind": "voltage", "zero": 0.0, "full": 10.0}
    with pytest.raises(OptionError, match="broken wire"):
        driver(signal=signal)
    made = driver(signal={**signal, "dead_zero": True})
    assert one(made, "0.0V").value == 0.0
    with pytest.raises(OptionError, match="broken wire"):
        driver(signal={**signal, "zero": 0.1})


def test_the_resolution_is_that_of_the_converter():
    """0.001 mA of 16 mA is a sixteen-thousandth of 40 bar."""
    assert one(driver(), "12.000mA").resolution == pytest.approx(40e5 / 16_000)
    assert one(driver(signal=RATIO), "2.500V").resolution == pytest.approx(40e5 / 4000)


def test_the_converter_is_asked_and_told():
    made = driver()
    assert (made.poll(), made.hello(), made.command("zero")) == (b"R", None, b"Z")
    with pytest.raises(UnsupportedCommandError, match="tare"):
        made.command("tare")
    made.feed(b"12", 0.0)
    made.reset()
    assert one(made, "12.0mA").value == pytest.approx(20e5)
    assert made.counts.discarded_bytes == 2


def test_frames_are_counted_once_by_what_became_of_them():
    made = driver()
    made.feed(b"12.0mA\r\n2.0mA\r\n12.0 mA\r\n20.7mA\r\n", 0.0)
    counts = made.counts
    assert (counts.frames, counts.readings, counts.rejected) == (4, 1, 3)
    kinds = {FaultKind.DEVICE_ERROR: 1, FaultKind.UNKNOWN_UNIT: 1, FaultKind.OVER_RANGE: 1}
    assert counts.by_kind == kinds


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"range": {"low": 1.0, "high": 1.0}}, "high"),
        ({"range": None}, "range"),
        ({"signal": {"kind": "current", "zero": 4.0}}, "zero"),
        ({"signal": {"kind": "voltage", "zero": 4.5, "full": 0.5}}, "full"),
        ({"signal": {"kind": "ratiometric", "zero": 0.1, "full": 0.9}}, "supply"),
        ({"signal": {**RATIO, "full": 1.5}}, "full"),
        ({"signal": {"kind": "hope"}}, "kind"),
        ({"source": {**TEXT, "driver": "scpi_query"}}, "driver"),
        ({"source": {**TEXT, "colour": 1}}, "colour"),
        ({"channel": {"quantity": "mass"}}, "channel"),
    ],
)
def test_an_option_that_makes_no_sense_is_refused_by_name(changes, named):
    with pytest.raises(OptionError) as refused:
        driver(**changes)
    assert named in str(refused.value)
