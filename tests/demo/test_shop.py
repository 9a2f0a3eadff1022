"""The invented shop holds together."""

from datetime import date

from benchstation.demo import shop as demo
from benchstation.devices.profile import load_profile
from benchstation.domain.people import check_pin
from benchstation.physics.oil import Oil
from benchstation.store.engine import open_store


def test_five_families_with_fills_inside_their_windows():
    families = demo.specifications().values()
    assert len(families) == 5
    for s in families:
        assert s.check_window().contains(s.oil.volume)


def test_every_family_has_a_lot_of_its_density(tmp_path):
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store)
        shop = demo.demo_shop(store)
    assert len(shop.lots) == 4
    for s in shop.current_specifications():
        lot = shop.lots[demo.LOT_OF[s.id]]
        assert lot.oil == s.oil.grade
        assert s.window(Oil(lot.rho15_kg_m3, lot.alpha_per_k)).contains(s.oil.volume)
    assert check_pin(shop.people[demo.LEAD], demo.PIN)


def test_the_measured_depth_is_where_the_fill_puts_the_floating_piston():
    for s in demo.specifications().values():
        geometry = s.geometry.model()
        depth = geometry.floating_piston_depth_m(geometry.gas_volume_m3(s.oil.volume))
        (measure,) = [step.measure for step in s.steps if step.id == "piston"]
        assert abs(depth - measure.nominal) < measure.tolerance


def test_instruments_fit_their_profiles():
    for role, registered in demo.instruments(date(2026, 3, 3)).items():
        profile = load_profile(registered.profile_id)
        assert profile.kind == {"scale": "mass", "gauge": "pressure"}[role]
        assert registered.calibrated_on < "2026-03-03" < registered.calibrated_until
