"""All three methods find the same oil on the virtual bench, within the uncertainty they state."""

import pytest

from benchstation.domain.specification import Method, StepKind
from tests.stepped_bench import make_bench


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("method", list(Method))
def test_the_net_oil_is_what_is_in_the_unit(tmp_path, method, seed):
    """Against the model's own mass: m (1 - 1.19/rho) / (1 - 1.19/8000) (OIML D 28), not ours."""
    bench = make_bench(tmp_path, seed=seed)
    try:
        key = ("mr-46-front", 1)
        s = bench.session.shop.specifications[key]
        fill = s.oil.model_copy(update={"method": method})
        bench.session.shop.specifications[key] = s.model_copy(update={"oil": fill})
        bench.work_to(StepKind.CHARGE)
        judged = bench.session.rebuild.oil_judged(StepKind.BLEED)
        model = bench.world.model
        lift = (1 - 1.19 / model.rho_oil_kg_m3) / (1 - 1.19 / 8000)
        found = judged.net_shown_kg - model.oil_kg * lift
        assert abs(found) < judged.expanded_kg + 2e-5, "and the calibration's own 40 ppm"
        pour = bench.session.rebuild.capture("pour").event
        assert pour.method == method.value
        assert (pour.before_kg is not None) is (method is Method.DIFFERENCE)
        # 262 mL by the lot's density, whichever way it was weighed.
        assert judged.net_volume_ref_m3 == pytest.approx(262e-6, abs=0.6e-6)
    finally:
        bench.store.close()
