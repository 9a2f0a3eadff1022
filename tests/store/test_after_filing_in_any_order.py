"""Random acts on a filed unit, held against a small model that tells the shop's rule again."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchstation.domain.disposition import FIRST
from benchstation.domain.events import (
    CustomerTold,
    ReleaseRuleSet,
    UnitAmended,
    UnitDisposed,
    UnitReturned,
    UnitShipped,
)
from benchstation.store.engine import open_store
from benchstation.store.errors import NotInOrderError
from benchstation.store.queries import get_unit
from tests.filed_records import filing_of
from tests.samples import sample_of


@pytest.fixture(autouse=True)
def on_the_disk():
    """Wait for no disk: what is asked here is what is taken."""


PEOPLE = "quin", "rae"
ACTS = st.one_of(
    st.tuples(st.just("say"), st.sampled_from(("released", "held", "rejected", FIRST))),
    st.tuples(st.just("amend"), st.sampled_from(("", "pass", "fail"))),
    st.tuples(st.sampled_from(("ship", "return", "tell")), st.just("")),
    st.tuples(st.just("rule"), st.sampled_from((1, 2))),
)


class Model:
    """What a shop would allow, told again in other words: a list of who said what since."""

    def __init__(self):
        self.signers, self.word, self.where = [], "", "shop"
        self.asked, self.told = 1, True

    def may(self, act, value, person):
        if act == "ship":
            return self.where == "shop" and self.word == "released"
        if act == "return":
            return self.where != "back"
        if act == "tell":
            return not self.told
        if act == "rule":
            return value != self.asked
        if act == "say" and value == FIRST:
            return self.asked == 2
        if act == "say" and value == "released" and self.asked == 2:
            return len(self.signers) == 1 and self.signers[0] != person
        return True

    def do(self, act, value, person):
        if act == "ship":
            self.where = "out"
        elif act == "return":
            self.where, self.told = "back", True
        elif act == "tell":
            self.told = True
        elif act == "rule":
            self.asked = value
        elif act == "amend":
            self.signers = []
            if value and self.word != "rejected":
                self.word = "held"
            self.told = self.told and self.where != "out"
        else:
            self.signers = [person] if value == FIRST else []
            self.word = value
            self.where = "shop" if self.where == "back" else self.where

    def shown(self):
        if self.where == "back":
            return "returned"
        held = {"": "not released yet", FIRST: "awaiting second signature", "held": "on hold"}
        here = held.get(self.word, self.word)
        if self.where == "shop":
            return here
        return {
            "released": "shipped",
            "on hold": "shipped, then on hold",
            "rejected": "shipped, then rejected",
        }.get(here, "shipped, release withdrawn")


@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(acts=st.lists(st.tuples(ACTS, st.sampled_from(PEOPLE)), max_size=14))
def test_no_order_of_acts_ships_what_those_whom_the_shop_asks_did_not_release(
    tmp_path_factory, clock, opening, acts
):
    path = tmp_path_factory.mktemp("acts") / "records.db"
    model, text = Model(), 0
    with open_store(path, "bench-1") as store:
        store.append([opening(), filing_of()], person="ines", utc=clock())
        for (act, value), person in acts:
            if act == "amend":
                text += 1
                field, new = (
                    ("close/torque1", 45.0 + text) if value else ("order", f"WO-{7 + text}")
                )
                event = UnitAmended("u1", field, now(store, field), new, "x", "lea", value)
            else:
                event = {
                    "say": lambda v: UnitDisposed("u1", v, "seen"),
                    "ship": lambda _: replace(sample_of(UnitShipped), unit_id="u1", customer="Kim"),
                    "return": lambda _: UnitReturned("u1", "knocks"),
                    "tell": lambda _: CustomerTold("u1", "by letter"),
                    "rule": lambda v: ReleaseRuleSet(v, "x"),
                }[act](value)
            told = bool(get_unit(store, "u1").notice)
            model.told = not told if act == "tell" else model.told
            if model.may(act, value, person):
                store.append([event], person=person, utc=clock())
                model.do(act, value, person)
            else:
                with pytest.raises(NotInOrderError):
                    store.append([event], person=person, utc=clock())
            assert get_unit(store, "u1").standing == model.shown()


def now(store, field):
    said = [e.event for e in store.entries(kind=UnitAmended.kind) if e.event.field == field]
    return said[-1].new if said else {"order": "WO-7", "close/torque1": 45.0}[field]
