"""A route that ends in "wait, then read again": the unit waits, and is filed after it."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import pytest

from benchstation.bench.commands.signing_in import take_back_asked
from benchstation.clock import Clock
from benchstation.demo import shop as demo
from benchstation.demo.air_reading import read_air
from benchstation.demo.hand import VirtualHand
from benchstation.domain.events import PressureReadAgain, SecondReadingJudged, UnitWeighed
from benchstation.domain.people import Role
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code
from benchstation.physics import nitrogen
from benchstation.quantities.formatter import METRIC
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record
from benchstation.reports.label import label_lines, waiting_lines, write_waiting_label
from benchstation.reports.second_words import second_lines
from benchstation.screens.bench.page import bench_view
from benchstation.screens.queue.page import Queue
from benchstation.screens.records.unfiled import waiting_unit
from benchstation.store.order_queries import BenchUnit, units_at_hand
from sample_devices.bench_model import LINE_VOLUME_M3
from tests.stepped_bench import make_bench

FAMILY = "stretcher-36"
DAY_S = 86_400.0


@dataclass(frozen=True)
class Waits:
    """A unit that waits: the records so far, the unit on record, and what it really holds."""

    records: bytes
    unit: BenchUnit
    at: datetime
    model: dict[str, object]

    def later(self, folder, seconds=1.01 * DAY_S, lost_kg=0.0):
        """Start the station again after so long; the sealed unit lost gas meanwhile."""
        (folder / "rebuilds.sqlite").write_bytes(self.records)
        bench = make_bench(folder, start=self.at + timedelta(seconds=seconds))
        for name, value in self.model.items():
            setattr(bench.world.model, name, value)
        bench.world.model.gas_kg -= lost_kg
        bench.run(2)
        return bench

    def fetched(self, folder, person=demo.TECHNICIANS[1], **how):
        """As :meth:`later`, and another technician fetches it."""
        bench = self.later(folder, **how)
        bench.sign_in(person)
        bench.session.act("fetch", {"unit": self.unit.unit_id})
        bench.run(1)
        read_air(bench.session, bench.world)
        return bench


STATE = ("gas_kg", "oil_kg", "gas_k", "_air_kg", "free_volume_m3", "rho_oil_kg_m3",
         "_screw_closed", "_line_pa")  # fmt: skip


@pytest.fixture(scope="module")
def waits(tmp_path_factory):
    """One unit is worked until it waits; every story goes on from there after a restart."""
    folder = tmp_path_factory.mktemp("waits")
    bench = make_bench(folder)
    for _ in bench.technician("T-1", FAMILY).work():
        bench.run(0.1)
    assert bench.session.rebuild is None, "the bench is free"
    (unit,) = units_at_hand(bench.store)
    model = {name: getattr(bench.world.model, name) for name in STATE}
    at = bench.clock.utc()
    bench.store.close()
    return Waits((folder / "rebuilds.sqlite").read_bytes(), unit, at, model)


def finish(bench, serial="T-1"):
    for _ in bench.technician(serial, FAMILY).work():
        bench.run(0.1)


def weigh_again(bench):
    bench.world.model.put_on_pan("nothing")
    bench.run(2)
    bench.session.act("weigh_unit", {})
    bench.run(4)
    bench.world.model.put_on_pan("unit")
    bench.run(8)
    bench.world.model.put_on_pan("nothing")
    bench.run(2)


def test_the_unit_waits_and_the_bench_is_free(waits, tmp_path):
    assert waits.unit.state == "aside"
    due = datetime.fromisoformat(waits.unit.due_utc)
    assert due - waits.at == pytest.approx(timedelta(hours=12), abs=timedelta(minutes=2))
    bench = waits.later(tmp_path, 600.0)
    bench.sign_in()
    bench.work_to(StepKind.RELEASE, serial="T-2")
    assert bench.session.unit().opened.serial == "T-2"
    with pytest.raises(NotAllowedError, match="T-2 is on the bench"):
        bench.session.act("fetch", {"unit": waits.unit.unit_id})


def test_it_is_filed_after_both_readings_with_its_leak(waits, tmp_path):
    bench = waits.fetched(tmp_path)
    finish(bench)
    assert bench.session.rebuild.ended == "filed"
    filed = filed_record(bench.store, waits.unit.unit_id)
    record, found = filed.record, filed.record.second_reading
    assert (found.decision, record.decision) == ("pass", "pass")
    assert abs(found.by_mass.loss) < 2 * found.by_mass.u_loss
    assert found.by_mass.seconds == pytest.approx(1.01 * DAY_S, rel=0.01)
    assert 2 * found.u_rate_pa_m3_s < 0.1 * record.hold.allowed_pa_m3_s
    assert record.asides[-1].until == waits.unit.due_utc
    fetched_by = bench.session.shop.people[demo.TECHNICIANS[1]].name
    assert record.asides[-1].fetched_by == fetched_by
    said = dict(second_lines(found, METRIC))
    assert "then" in said["Readings of mass"]
    assert said["Leak by mass"].endswith(": pass")
    assert "Read again by mass: pass" in label_lines(filed, METRIC)
    assert write_certificate(filed, tmp_path / "record.pdf").stat().st_size > 10_000


def test_a_unit_that_lost_gas_is_not_filed(waits, tmp_path):
    """0.3 g of about 0.75 g in a day are some 3e-4 Pa m3/s."""
    bench = waits.later(tmp_path, lost_kg=0.3e-3)
    limited(bench, 1e-4)
    fetch(bench, waits)
    weigh_again(bench)
    found = bench.session.unit().second
    assert found.by_mass.loss == pytest.approx(0.3e-3, abs=2 * found.by_mass.u_loss)
    expected = 0.3e-3 * nitrogen.R_N2 * demo.AIR.temperature_k / found.by_mass.seconds
    assert found.rate_pa_m3_s == pytest.approx(expected, rel=0.3)
    assert found.decision == "fail"
    assert bench.session.unit().current.kind is StepKind.SECOND
    assert "it loses too much" in bench.session.message.text
    bench.sign_in(demo.LEAD)
    bench.session.act("deviation", {**demo.SIGNED, "reason": "for the museum"})
    assert bench.session.unit().current.kind is StepKind.FILE


def fetch(bench, waits):
    bench.sign_in()
    bench.session.act("fetch", {"unit": waits.unit.unit_id})
    bench.run(1)
    read_air(bench.session, bench.world)


def limited(bench, leak, ways=("mass",)):
    """Let the shop's specification allow another leak, and read the unit again by these ways."""
    known = bench.session.shop.specifications
    for key, found in known.items():
        if key[0] == FAMILY:
            steps = tuple(
                s.model_copy(update={"second": s.second.model_copy(update={"by": ways})})
                if s.second
                else s
                for s in found.steps
            )
            gas = found.gas.model_copy(update={"allowed_leak": leak})
            known[key] = found.model_copy(update={"gas": gas, "steps": steps})


def test_it_is_too_early_before_the_night_is_over(waits, tmp_path):
    bench = waits.fetched(tmp_path, seconds=3600.0)
    with pytest.raises(NotAllowedError, match="too early"):
        bench.session.act("weigh_unit", {})
    said = [line for line, _ in bench_view(bench.session, METRIC).task.lines]
    assert any(line.startswith("let it wait 11 h") for line in said)
    bench.session.act("let_wait", {})
    assert bench.session.rebuild is None


def test_a_clock_set_forward_while_it_waits_holds_it(waits, tmp_path):
    """A leak over an hour, taken for one over a day, would pass for a twenty-fourth of it."""
    bench = waits.later(tmp_path, seconds=3600.0)
    steady = bench.clock.clock
    day = timedelta(seconds=DAY_S)
    bench.session.clock = Clock(steady.seconds, lambda: steady.utc() + day)
    bench.run(1)
    bench.sign_in()
    bench.session.act("fetch", {"unit": waits.unit.unit_id})
    bench.run(1)
    read_air(bench.session, bench.world)
    finish(bench)
    record = filed_record(bench.store, waits.unit.unit_id).record
    assert record.second_reading.by_mass.seconds > DAY_S, "as the clock has it"
    assert Code.CLOCK_SET_FORWARD in [reason.code for reason in record.qa_hold_reasons]


def test_an_old_air_is_no_evidence_of_the_second_day(waits, tmp_path):
    bench = waits.later(tmp_path)
    bench.sign_in()
    bench.session.act("fetch", {"unit": waits.unit.unit_id})
    bench.run(1)
    with pytest.raises(NotAllowedError, match="air"):
        bench.session.act("weigh_unit", {})


def read_pressure(bench):
    """Put the fill tool on the sealed unit, read it, and close it again."""
    model = bench.world.model
    bench.session.act("read_again", {})
    bench.run(8)
    model.open_gas_screw()
    bench.run(20)
    model.close_gas_screw()
    model.vent_opening = 0.5
    bench.run(5)
    model.vent_opening = 0.0


@pytest.fixture
def both(waits, tmp_path):
    """The unit is fetched, and is read by its mass and by its pressure."""
    bench = waits.later(tmp_path)
    bench.session.shop.fill_tool_m3 = LINE_VOLUME_M3
    limited(bench, 5e-5, ("mass", "pressure"))
    fetch(bench, waits)
    yield bench
    bench.store.close()


def test_mass_and_pressure_agree_and_the_tools_share_is_no_leak(both):
    weigh_again(both)
    assert both.session.unit().second is None, "the pressure is still to be read"
    read_pressure(both)
    found = judged(both)
    assert found.disbelieved == ""
    assert abs(found.by_pressure.loss) < 2 * found.by_pressure.u_loss
    assert found.by_pressure.first - found.by_pressure.second > 0.2e5, "the tool took its share"


def judged(bench):
    entries = bench.store.entries(unit_id=bench.session.unit().unit_id)
    return next(e.event for e in reversed(entries) if isinstance(e.event, SecondReadingJudged))


def test_weighed_after_the_gauge_the_tools_share_is_no_leak_either(both):
    read_pressure(both)
    weigh_again(both)
    found = judged(both)
    assert found.disbelieved == ""
    assert abs(found.by_mass.loss) < 2 * found.by_mass.u_loss


def test_what_disagrees_is_named(both):
    """A nut that was left off the scale weighs as much as much of the gas."""
    setup = both.world.model.setup
    object.__setattr__(setup, "body_kg", setup.body_kg - 0.5e-3)
    weigh_again(both)
    read_pressure(both)
    found = judged(both)
    assert (found.decision, found.doubt) == ("undecided", "disagree")
    assert (found.believed, found.disbelieved) == ("mass", "pressure")
    object.__setattr__(setup, "body_kg", setup.body_kg + 3e-3)
    weigh_again(both)
    found = judged(both)
    assert (found.believed, found.disbelieved) == ("pressure", "mass"), "a gain cannot be"


def test_the_queue_and_the_label_name_it(waits, tmp_path):
    bench = waits.later(tmp_path, 3600.0)
    find = Queue(bench.store, bench.session.shop.current_specifications, bench.clock.utc).find
    (row,) = find(METRIC).rows
    assert row.state == "2nd reading"
    assert row.reason.startswith("waits until 2026-03-03 21:")
    assert "charged: there is gas in it" in row.reason
    bench.clock.advance(DAY_S)
    assert find(METRIC).rows[0].reason.startswith("waited, due now")
    rebuild, due = waiting_unit(bench.store, waits.unit.unit_id)
    assert "WAITS FOR ITS SECOND READING" in waiting_lines(rebuild, due)
    written = write_waiting_label(rebuild, due, tmp_path / "waits.pdf")
    assert written.read_bytes().startswith(b"%PDF")


def test_the_demonstrations_hand_brings_the_same_unit_back(waits, tmp_path):
    bench = waits.later(tmp_path)
    bench.world.model.bring_in(free_volume_m3=1e-4, rho_oil_kg_m3=800.0, oil_kg=0.01, gauge_pa=1e5)
    fetch(bench, waits)
    VirtualHand(bench.world).follow(bench.session)
    weigh_again(bench)
    found = bench.session.unit().second
    assert found.decision == "pass"
    assert abs(found.by_mass.loss) < 2 * found.by_mass.u_loss


def on_pan(bench, what="unit"):
    """Begin to weigh the unit; it would be on record as soon as it rests."""
    bench.world.model.put_on_pan("nothing")
    bench.run(2)
    bench.session.act("weigh_unit", {})
    bench.run(4)
    bench.world.model.put_on_pan(what)


def joined(bench):
    """Begin to read the pressure; it would be on record as soon as it rests."""
    bench.session.act("read_again", {})
    bench.run(8)
    bench.world.model.open_gas_screw()


def goes_by_hand(bench):
    bench.session.act("sign_out", {})


def hands_over(bench):
    bench.session.act("hand_over", {"reason": "the shift ends"})
    bench.sign_in(demo.TECHNICIANS[1])
    bench.session.act("take_over", {})


def qa_comes(bench):
    bench.sign_in(demo.QA)


def loses_the_role(bench):
    person = bench.session.shop.people[demo.TECHNICIANS[0]]
    bench.session.shop.people[person.person_id] = replace(person, roles=frozenset((Role.QA,)))
    bench.session.signed_in.refresh(bench.session.shop.people)
    take_back_asked(bench.session)


@pytest.mark.parametrize("leave", [goes_by_hand, hands_over, qa_comes, loses_the_role])
@pytest.mark.parametrize("begin", [on_pan, joined])
def test_what_one_has_begun_is_nobody_elses_reading(both, begin, leave):
    """Else it stood on record as the station's, as QA's, or as who only took the unit over."""
    begin(both)
    leave(both)
    assert "is cancelled" in both.session.message.text or leave in (hands_over, loses_the_role)
    before = both.store.head()
    both.run(25)
    unit = both.session.unit()
    assert (unit.unit_second, unit.read_again) == (None, None)
    work = [e for e in both.store.entries() if e.seq > before[0]]
    assert not any(isinstance(e.event, UnitWeighed | PressureReadAgain) for e in work)


def test_a_second_technician_goes_on_with_what_runs(both):
    on_pan(both)
    both.sign_in(demo.TECHNICIANS[1])
    both.run(8)
    assert both.session.unit().unit_second is not None
    (weighed,) = [e for e in both.store.entries(kind=UnitWeighed.kind) if e.event.second]
    assert weighed.person == demo.TECHNICIANS[1]
