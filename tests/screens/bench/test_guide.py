"""A first unit is accompanied by a few sentences; they go when it is filed or they are put away."""

import pytest

from benchstation.bench.guiding import Guiding
from benchstation.demo import shop as demo
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import METRIC
from benchstation.screens.bench import guide as words
from benchstation.screens.bench.page import bench_view


def test_no_page_has_more_than_three_sentences():
    for kind in StepKind:
        said = (*words.WORDS.get(kind, words.OTHER), words.HAND.get(kind, ""))
        assert len([one for one in said if one]) <= 3
        assert all(one.count(".") == 1 for one in said if one)


class Store:
    """Who has filed something."""

    def __init__(self, *filed: str) -> None:
        self.filed, self.asked = filed, 0


@pytest.fixture
def filed(monkeypatch):
    def has_filed(store: Store, person: str) -> bool:
        store.asked += 1
        return person in store.filed

    monkeypatch.setattr("benchstation.bench.guiding.has_filed", has_filed)


@pytest.mark.usefixtures("filed")
def test_who_has_filed_a_unit_is_not_accompanied_and_the_records_are_asked_once():
    store, guiding = Store("old"), Guiding()
    assert not guiding.is_new(store, "old")
    assert all(guiding.is_new(store, "new") for _ in range(3))
    assert store.asked == 2


def test_nobody_is_accompanied_at_a_bench_that_is_set_up_for_work():
    assert not Guiding().is_new(Store(), "")


@pytest.mark.usefixtures("filed")
def test_one_who_put_the_words_away_is_not_accompanied_any_more():
    store, guiding = Store(), Guiding()
    guiding.end("new")
    assert not guiding.is_new(store, "new")
    assert guiding.is_new(store, "other")


def test_in_the_demonstration_everybody_is_new_until_the_first_end():
    store, guiding = Store("old"), Guiding(everybody=True)
    assert guiding.is_new(store, "old")
    assert guiding.is_new(store, "")
    guiding.end("old")
    assert not guiding.is_new(store, "old")
    assert not guiding.is_new(store, "")


def test_a_first_unit_is_accompanied_until_it_is_filed(bench):
    def said() -> tuple[str, ...]:
        return bench_view(bench.session, METRIC).guide

    assert said() == ()
    bench.work_to(StepKind.WEIGH)
    assert said() == words.WORDS[StepKind.WEIGH]
    bench.work_to(None)
    assert said() == ()
    assert not bench.session.guiding.is_new(bench.store, demo.TECHNICIANS[0])


def test_the_words_are_put_away_by_hand(bench):
    def said() -> tuple[str, ...]:
        return bench_view(bench.session, METRIC).guide

    bench.session.guiding.everybody = True
    assert said() == words.BESIDE["sign-in"]
    bench.sign_in()
    assert said() == words.BESIDE["open"]
    bench.session.act("hide_guide", {})
    assert said() == ()


def test_in_the_demonstration_they_tell_what_the_virtual_hand_does(bench):
    bench.session.guiding.everybody = True
    bench.work_to(StepKind.CHARGE)
    assert bench_view(bench.session, METRIC).guide[-1] == words.HAND[StepKind.CHARGE]
