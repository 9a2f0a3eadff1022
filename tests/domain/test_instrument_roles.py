"""A role follows from what the device measures."""

import pytest

from benchstation.domain.instrument_roles import NEEDED, InstrumentRole, role_of
from benchstation.driver_api.reading import Quantity


@pytest.mark.parametrize(
    ("quantity", "reference", "role"),
    [
        ("mass", None, InstrumentRole.SCALE),
        ("pressure", None, InstrumentRole.GAUGE),
        ("pressure", "gauge", InstrumentRole.GAUGE),
        ("pressure", "absolute", InstrumentRole.BAROMETER),
        ("temperature", None, InstrumentRole.THERMOMETER),
        ("humidity", None, InstrumentRole.HYGROMETER),
        ("current", None, None),
        ("voltage", None, None),
    ],
)
def test_a_role_follows_from_what_is_measured(quantity, reference, role):
    assert role_of(quantity, reference) is role


def test_every_role_can_be_filled_by_some_device():
    found = {role_of(quantity, r) for quantity in Quantity for r in (None, "absolute")}
    assert found - {None} == set(InstrumentRole)
    assert set(NEEDED) < set(InstrumentRole)
