"""A figure of the air: how old, how sure, and when it counts no more."""

import random
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.domain.air_evidence import (
    WEATHER_PA,
    AirEvidence,
    AirLimits,
    AirQuantity,
    AirSource,
    in_words,
    plausible,
)

NOW = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)
LIMITS = AirLimits()
T, P, H = AirQuantity


def typed(quantity, value, u, minutes, **given):
    at = NOW - timedelta(minutes=minutes)
    return AirEvidence(quantity, value, u, AirSource.TYPED, "wall", at, "kofler", **given)


@pytest.mark.parametrize(
    ("quantity", "minutes", "counts"),
    [(T, 0, True), (T, 60, True), (T, 61, False), (P, 61, True), (P, 240, True), (P, 241, False)],
)
def test_air_counts_for_an_hour_and_the_barometer_for_four(quantity, minutes, counts):
    why = typed(quantity, 295.0, 0.3, minutes).why_not(NOW, LIMITS)
    assert (why == "") is counts
    if not counts:
        assert str(quantity) in why
        assert "it counts for" in why


def test_a_shop_sets_its_own_times():
    short = AirLimits(temperature_holds_s=600.0)
    assert "10 min" in typed(T, 295.0, 0.3, 11).why_not(NOW, short)


def test_what_may_have_changed_since_grows_the_uncertainty():
    fresh, old = (typed(T, 295.0, 0.3, m).u_now(NOW, LIMITS) for m in (0, 60))
    assert fresh == pytest.approx(0.3)
    # 2 K either way within the hour, rectangular: 2 / sqrt(3).
    assert old == pytest.approx((0.3**2 + 4.0 / 3.0) ** 0.5)
    assert typed(P, 1e5, 50.0, 60).u_now(NOW, LIMITS) == pytest.approx((2500 + 1e4 / 3) ** 0.5)


def test_the_set_up_is_no_evidence_and_an_altitude_an_estimate():
    set_up = AirEvidence(T, 293.15, 5.0, AirSource.SET_UP)
    assert set_up.why_not(NOW, LIMITS) == "the air temperature was not read"
    altitude = AirEvidence(P, 95_460.0, WEATHER_PA, AirSource.ALTITUDE)
    assert altitude.why_not(NOW, LIMITS) == ""
    assert altitude.u_now(NOW, LIMITS) == 1200.0


def test_an_overdue_instrument_is_said_while_its_reading_is_young():
    overdue = typed(T, 295.0, 0.1, 1, unfit="Thermometer is overdue for calibration")
    assert "overdue" in overdue.why_not(NOW, LIMITS)


def test_the_record_keeps_source_age_and_u_of_that_moment():
    kept = typed(T, 295.0, 0.3, 30).condition(NOW, LIMITS)
    assert (kept.quantity, kept.source, kept.name) == ("air temperature", "typed", "wall")
    assert (kept.person, kept.age_s) == ("kofler", 1800.0)
    assert kept.u == pytest.approx((0.09 + 1.0 / 3.0) ** 0.5)


@pytest.mark.parametrize(
    ("quantity", "value", "can_be"),
    [(T, 253.0, True), (T, 252.9, False), (T, 333.0, True), (T, 333.1, False), (T, 21.0, False),
     (P, 50e3, True), (P, 49e3, False), (P, 110e3, True), (P, 111e3, False), (P, 1009.0, False),
     (H, 0.0, True), (H, 1.0, True), (H, 1.01, False), (H, -0.01, False), (H, 45.0, False)],
)  # fmt: skip
def test_what_air_at_a_bench_can_be(quantity, value, can_be):
    assert plausible(quantity, value) is can_be


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(5, "5 s"), (59.6, "60 s"), (60, "1 min"), (3599, "59 min"), (3600, "1 h"),
     (4800, "1 h 20 min"), (200_000, "2 days")],
)  # fmt: skip
def test_an_age_in_words(seconds, words):
    assert in_words(seconds) == words


def test_two_u_cover_a_room_that_drifts_as_fast_as_it_may():
    chance, inside = random.Random(7), 0
    for _ in range(4000):
        minutes, rate = chance.uniform(0, 60), chance.uniform(-2.0, 2.0)
        now_k = 295.0 + chance.gauss(0.0, 0.3) + rate * minutes / 60
        inside += abs(now_k - 295.0) <= 2 * typed(T, 295.0, 0.3, minutes).u_now(NOW, LIMITS)
    assert inside / 4000 >= 0.93
