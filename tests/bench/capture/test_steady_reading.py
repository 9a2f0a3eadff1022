import pytest

from benchstation.bench.capture.steady_reading import steadying_for
from benchstation.domain.inputs.quantity import Measure, Source
from benchstation.quantities.units import Dimension


def step_of(bench, **measure):
    spec = bench.session.shop.specifications["mr-46-rear", 1]
    return spec.step("piston").model_copy(update={"measure": Measure(label="it", **measure)})


def follow(bench, step, seconds=3.0):
    session = bench.session
    steadiness = session.shop.specifications["mr-46-rear", 1].steadiness
    session.work.steadying = steadying_for(step, steadiness, session.scale, session.gauge)
    bench.run(seconds)
    return session.work.steadying


def test_a_typed_measure_follows_no_instrument(bench):
    assert follow(bench, step_of(bench)) is None
    rod = bench.session.shop.specifications["mr-46-rear", 1].step("rod")
    assert follow(bench, rod) is None


def test_the_scale_gives_its_steady_mass(bench):
    bench.world.model.put_on_pan("check weight")
    steadying = follow(bench, step_of(bench, dimension="mass", source="scale"))
    taken = steadying.taken(bench.clock.seconds())
    assert taken.instrument_id == "scale-1"
    assert taken.count >= 8
    assert taken.value == pytest.approx(bench.session.scale.instrument.latest().value, abs=2e-4)
    assert steadying.state(bench.clock.seconds()) == "steady"


def test_a_mass_that_moves_is_waited_for(bench):
    steadying = follow(bench, step_of(bench, dimension="mass", source="scale"))
    bench.world.model.put_on_pan("check weight")
    bench.run(0.4)
    assert steadying.taken(bench.clock.seconds()) is None
    assert "hands off" in steadying.state(bench.clock.seconds())


def test_a_line_that_is_silent_gives_nothing_though_it_was_steady(bench):
    steadying = follow(bench, step_of(bench, dimension="pressure", source="gauge"))
    assert steadying.taken(bench.clock.seconds()) is not None
    bench.unplugged.add("gauge")
    bench.run(2.0)
    assert steadying.taken(bench.clock.seconds()) is None
    assert steadying.state(bench.clock.seconds()) == "no valid reading"
    bench.unplugged.clear()
    bench.run(0.5)
    assert steadying.taken(bench.clock.seconds()) is None, "what was before the gap does not count"


def test_each_source_has_its_dimension():
    for source, dimension in ((Source.SCALE, Dimension.MASS), (Source.GAUGE, Dimension.PRESSURE)):
        assert Measure(label="it", dimension=dimension.value, source=source).of is dimension
