"""A repeatability run at the bench: the weight on and off, the study on record."""

import numpy as np
import pytest

from benchstation.demo import shop as demo
from benchstation.domain.events import RepeatabilityMeasured
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.store.instrument_history import newest_studies, studies_of
from tests.stepped_bench import make_bench


def begin(bench, times="5", nominal="200 g", instrument="scale-1"):
    return bench.session.act(
        "begin_study", {"instrument": instrument, "nominal": nominal, "times": times}
    )


def put_on_and_off(bench, times):
    for _ in range(times):
        for load in ("nothing", "check weight"):
            bench.world.model.put_on_pan(load)
            bench.run(4)


def test_a_run_finds_the_scatter_of_the_scale_and_keeps_it(bench):
    bench.sign_in()
    bench.world.scale.noise_kg = 4e-5
    bench.world.scale.filter_s = 0.2
    begin(bench, times="20")
    put_on_and_off(bench, 20)
    assert bench.session.study is None
    (entry,) = studies_of(bench.store, "scale-1")
    found = entry.event
    differences = np.subtract(found.loaded, found.empty)
    assert found.dof == 19
    assert found.std == pytest.approx(np.std(differences, ddof=1))
    assert np.mean(differences) == pytest.approx(0.2, abs=1e-4)
    # The noise passes the filter and the mean of a window; what is left is a share of it.
    assert 1e-6 < found.std < 4e-5
    assert entry.person == demo.TECHNICIANS[0]
    assert bench.session.scale.repeatability == found
    assert newest_studies(bench.store) == {"scale-1": found}
    assert "19 degrees of freedom" in bench.session.message.text


def test_a_restart_knows_the_newest_study(bench, tmp_path):
    bench.sign_in()
    begin(bench)
    put_on_and_off(bench, 5)
    found = bench.session.scale.repeatability
    bench.store.close()
    again = make_bench(tmp_path)
    try:
        assert found is not None
        assert again.session.scale.repeatability == found
        assert again.session.gauge.repeatability is None
    finally:
        again.store.close()


def test_the_run_says_what_comes_next_and_takes_no_other_weight(bench):
    bench.sign_in()
    bench.world.model.put_on_pan("check weight")
    bench.run(1)
    begin(bench)
    bench.run(4)
    run = bench.session.study
    assert not run.wants_load
    assert (run.empty, run.loaded) == ([], [])
    bench.world.model.put_on_pan("nothing")
    bench.run(4)
    assert run.wants_load
    assert "now put the weight on" in bench.session.message.text
    bench.world.model.put_on_pan("body")
    bench.run(4)
    assert run.loaded == []
    assert run.problem
    bench.world.model.put_on_pan("check weight")
    bench.run(4)
    assert (len(run.empty), len(run.loaded), run.problem) == (1, 1, "")


def test_a_tare_that_stands_is_told_and_zeroing_puts_it_right(bench):
    bench.sign_in()
    bench.world.model.put_on_pan("body")
    bench.run(3)
    bench.session.scale.instrument.tare()
    bench.world.model.put_on_pan("nothing")
    bench.run(3)
    begin(bench)
    bench.run(4)
    run = bench.session.study
    assert "zero the scale" in run.problem
    bench.session.act("zero", {"instrument": "scale-1"})
    put_on_and_off(bench, 5)
    assert bench.session.scale.repeatability.dof == 4


def test_a_weight_that_stays_on_is_counted_once(bench):
    bench.sign_in()
    begin(bench)
    bench.world.model.put_on_pan("nothing")
    bench.run(20)
    bench.world.model.put_on_pan("check weight")
    bench.run(30)
    assert (len(bench.session.study.empty), len(bench.session.study.loaded)) == (1, 1)


def test_a_run_that_is_left_keeps_nothing(bench):
    bench.sign_in()
    begin(bench)
    put_on_and_off(bench, 3)
    bench.session.act("end_study", {})
    put_on_and_off(bench, 3)
    assert bench.store.entries(kind=RepeatabilityMeasured.kind) == []
    with pytest.raises(NotAllowedError, match="no repeatability run"):
        bench.session.act("end_study", {})


def test_a_run_ends_with_whoever_began_it(bench):
    bench.sign_in()
    begin(bench)
    put_on_and_off(bench, 2)
    bench.sign_in(demo.LEAD)
    bench.run(1)
    assert bench.session.study is None
    assert "signed out" in bench.session.message.text
    assert bench.store.entries(kind=RepeatabilityMeasured.kind) == []


def test_a_weighing_on_the_scale_comes_first(bench):
    bench.sign_in()
    begin(bench)
    bench.work_to(StepKind.WEIGH)
    bench.run(1)
    assert bench.session.study is None
    with pytest.raises(NotAllowedError, match="a unit is weighed on it"):
        begin(bench)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"times": "4"}, "4 times cannot be run"),
        ({"times": "51"}, "51 times cannot be run"),
        ({"times": "many"}, "no number of times"),
        ({"times": "9" * 5000}, "no number of times"),
        ({"times": "¹⁰"}, "no number of times"),
        ({"nominal": ""}, "Nothing is entered"),
        ({"nominal": "200 mL"}, "mass"),
        ({"nominal": "0.1 g"}, "too small"),
        ({"nominal": "-200 g"}, "too small"),
        ({"instrument": "gauge-1"}, "no scale"),
        ({"instrument": "scale-9"}, "no instrument"),
    ],
)
def test_what_cannot_be_run_is_refused_and_changes_nothing(bench, given, said):
    bench.sign_in()
    with pytest.raises(StationError, match=said):
        begin(bench, **given)
    assert bench.session.study is None


def test_no_reading_no_run(bench):
    bench.sign_in()
    bench.unplugged.add("scale")
    bench.run(2)
    with pytest.raises(NotAllowedError, match="no valid reading"):
        begin(bench)
