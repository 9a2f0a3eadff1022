"""Every shipped profile by the conformance kit, on transcripts of what its device sends."""

from pathlib import Path

import pytest

from benchstation.devices.profile import load_profile, profile_ids
from benchstation.driver_api.testing import DriverConformance, read_transcripts
from drivers.current_loop import CurrentLoopDriver
from drivers.modbus_registers import ModbusRegistersDriver
from drivers.scpi_query import ScpiQueryDriver
from drivers.text_line import TextLineDriver

TRANSCRIPTS = Path(__file__).parent.parent / "transcripts"


def options(profile_id):
    """The options that the profile hands to its driver, its channel among them."""
    made = []

    class Taker:
        def __init__(self, given):
            made.append(given)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("benchstation.devices.profile.load_driver", lambda _: Taker)
        load_profile(profile_id).make_driver()
    return made[0]


TESTED = []


class ProfileConformance(DriverConformance):
    def __init_subclass__(cls, profile_id, **words):
        super().__init_subclass__(**words)
        cls.options = options(profile_id)
        cls.transcripts = read_transcripts(TRANSCRIPTS / profile_id)
        TESTED.append(profile_id)


class TestScaleStatusFirst(ProfileConformance, profile_id="scale-status-first"):
    driver = TextLineDriver


class TestScaleMarkWhileMoving(ProfileConformance, profile_id="scale-mark-while-moving"):
    driver = TextLineDriver


class TestScaleUnitWhenStable(ProfileConformance, profile_id="scale-unit-when-stable"):
    driver = TextLineDriver


class TestScaleRequestReply(ProfileConformance, profile_id="scale-request-reply"):
    driver = TextLineDriver


class TestGaugeValueUnit(ProfileConformance, profile_id="gauge-value-unit"):
    driver = TextLineDriver


class TestGaugeBareNumber(ProfileConformance, profile_id="gauge-bare-number"):
    driver = TextLineDriver


class TestPressureRegisters(ProfileConformance, profile_id="pressure-registers"):
    driver = ModbusRegistersDriver
    checksummed = True


class TestScaleNameFirst(ProfileConformance, profile_id="scale-name-first"):
    driver = TextLineDriver


class TestScaleSignedSixDigits(ProfileConformance, profile_id="scale-signed-six-digits"):
    driver = TextLineDriver


class TestScaleWeightFirst(ProfileConformance, profile_id="scale-weight-first"):
    driver = TextLineDriver


class TestScaleDecimalComma(ProfileConformance, profile_id="scale-decimal-comma"):
    driver = TextLineDriver


class TestScaleStatusWord(ProfileConformance, profile_id="scale-status-word"):
    driver = TextLineDriver


class TestScaleXorAfterEnd(ProfileConformance, profile_id="scale-xor-after-end"):
    driver = TextLineDriver
    checksummed = True


class TestScaleStatusBytes(ProfileConformance, profile_id="scale-status-bytes"):
    driver = TextLineDriver
    checksummed = True


class TestGaugeSumBeforeEnd(ProfileConformance, profile_id="gauge-sum-before-end"):
    driver = TextLineDriver
    checksummed = True


class TestGaugeCrcLine(ProfileConformance, profile_id="gauge-crc-line"):
    driver = TextLineDriver
    checksummed = True


class TestPressureRegistersTcp(ProfileConformance, profile_id="pressure-registers-tcp"):
    driver = ModbusRegistersDriver
    # Before the first request an answer to any is taken: its number may be any two bytes.
    skips_text = True


class TestPressureQuery(ProfileConformance, profile_id="pressure-query"):
    driver = ScpiQueryDriver


class TestTransmitterCurrentText(ProfileConformance, profile_id="transmitter-current-text"):
    driver = CurrentLoopDriver


class TestTransmitterRatioRegisters(ProfileConformance, profile_id="transmitter-ratio-registers"):
    driver = CurrentLoopDriver
    checksummed = True


class TestThermometerValueUnit(ProfileConformance, profile_id="thermometer-value-unit"):
    driver = TextLineDriver


class TestSurfaceThermometerRequest(ProfileConformance, profile_id="surface-thermometer-request"):
    driver = TextLineDriver


class TestThermometerRegisters(ProfileConformance, profile_id="thermometer-registers"):
    driver = ModbusRegistersDriver
    checksummed = True


class TestBarometerValueUnit(ProfileConformance, profile_id="barometer-value-unit"):
    driver = TextLineDriver


class TestHygrometerValueUnit(ProfileConformance, profile_id="hygrometer-value-unit"):
    driver = TextLineDriver


class TestClimateLine(ProfileConformance, profile_id="climate-line"):
    driver = TextLineDriver


def test_every_shipped_profile_is_here():
    assert sorted(TESTED) == profile_ids()
