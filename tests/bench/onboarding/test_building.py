"""A profile made in the steps of an instrument, on a device that nobody knows yet."""

import time

import pytest

from benchstation.bench.onboarding import building as made_of
from benchstation.bench.onboarding.building import field_of
from benchstation.bench.onboarding.instrument import Adding
from benchstation.cli.profile_trial import try_profile
from benchstation.devices.profile_builder import Mark
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.driver_api.errors import StationError
from benchstation.screens.instruments.onboarding import adding_view
from benchstation.screens.model.elements import Tone
from sample_devices.bench_model import BenchModel
from sample_devices.host import TcpHost
from sample_devices.scale import VirtualScale
from tests.bench.onboarding.test_instrument import WEIGHT, Keeper, act
from tests.waiting import eventually

ROOM = "Stillstand"


class UnknownScale(VirtualScale):
    """Says its state in a word before the weight, and a word after it."""

    def frame(self) -> bytes:
        state = "bewegt    " if self.moving() else ROOM
        return f"W01 {state} {self.shown_kg * 1e3:9.2f} g  Wert\r\n".encode()


@pytest.fixture
def steps(monkeypatch, tmp_path):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    made = Adding(Keeper(), listen_s=0.4, profiles=[tmp_path / "profiles"])
    yield made
    made.close()


@pytest.fixture
def url():
    model = BenchModel(3)
    model.on_pan = "check weight"
    host = TcpHost(UnknownScale(model, rate_hz=50.0, noise_kg=5e-6), time.perf_counter)
    yield host.url
    host.close()


@pytest.fixture
def built(steps, url):
    """Return the steps where a profile is made, its state marked."""
    act(steps, "begin")
    act(steps, "listen", address=url)
    assert adding_view(steps).step_id == "adding-listen"
    act(steps, "build")
    key = adding_view(steps).frames.lines[0].key
    act(steps, "mark_state", frame=key, **{"from": "4", "to": "14"})
    return steps


GIVEN = {"title": "Waage mit Wort", "role": "scale", "low": "0 kg", "high": "6 kg"}


def test_nobody_reads_it_and_a_profile_is_offered_to_be_made(steps, url):
    act(steps, "begin")
    act(steps, "listen", address=url)
    assert "build" in [action.id for action in adding_view(steps).actions]
    act(steps, "build")
    view = adding_view(steps)
    assert view.step_id == "adding-build"
    assert "#########" in view.frames.ruler
    assert view.frames.lines[0].fits == (not steps.state.building.problem)
    assert next(s for s in view.steps if s.state == "now").title == "Match"


def test_each_mark_shows_at_once_whether_every_frame_fits(built):
    view = adding_view(built)
    assert view.frames.ruler.startswith("····ssssssssss")
    assert view.lines[0][1] is Tone.NORMAL
    assert all(line.fits for line in view.frames.lines)
    assert "steady" in view.frames.lines[0].words


def test_a_wrong_mark_shows_the_frames_that_do_not_fit_first(built):
    view = adding_view(built)
    at = view.frames.ruler.index("#")
    # One column of the number is left out: digits stand where nothing was marked.
    act(
        built, "mark_number", frame=view.frames.lines[0].key, **{"from": str(at), "to": str(at + 8)}
    )
    view = adding_view(built)
    assert view.lines[0][1] is Tone.CAUTION
    with pytest.raises(StationError):
        act(built, "save_profile", **GIVEN)


def test_it_is_kept_with_its_transcript_and_read_live(built, tmp_path):
    said = act(built, "save_profile", **GIVEN)
    file = tmp_path / "profiles" / "waage-mit-wort.toml"
    assert str(file) in said
    lines = list(try_profile(file, tmp_path / "profiles/transcripts/waage-mit-wort/readings.txt"))
    assert lines
    eventually(lambda: not adding_view(built).big.stale)
    assert adding_view(built).step_id == "adding-prove"
    eventually(lambda: "moving" not in adding_view(built).big.caption)
    said = act(built, "check", nominal="200 g", **WEIGHT)
    assert said.startswith("Proved"), built.state.checked
    act(built, "name", id="s", title="Scale")
    act(built, "none_yet")
    new = built.state.new
    assert (new.settings.profile, new.registered.profile_id) == ("waage-mit-wort",) * 2


def test_next_time_it_is_offered(built, url):
    act(built, "save_profile", **GIVEN)
    act(built, "begin")
    act(built, "listen", address=url)
    assert [row.key for row in adding_view(built).rows] == ["waage-mit-wort"]


def test_what_is_typed_is_kept_with_each_mark(built):
    view = adding_view(built)
    unit = next(f for f in view.fields if f.id.startswith(made_of.UNIT_OF))
    at = view.frames.ruler.index("u")
    where = {"frame": view.frames.lines[0].key, "from": str(at), "to": str(at + 1)}
    act(built, "mark_unit", **{**GIVEN, "rate": "12,5", unit.id: "g", **where})
    draft = built.state.building.draft
    assert (draft.title, draft.high, draft.rate_hz) == ("Waage mit Wort", "6 kg", 12.5)
    state = field_of(made_of.STATE_OF, ROOM)
    act(built, "try", **{**GIVEN, state: "moving"})
    assert built.state.building.draft.states[ROOM] == "moving"


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"title": ""}, "title"),
        ({"title": "Scale, status first"}, "title"),
        ({"rate": "often"}, "rate"),
        ({"rate": "0"}, "rate"),
        ({"high": "6 bar"}, ""),
    ],
)
def test_what_cannot_be_kept_is_refused_and_writes_nothing(built, tmp_path, changed, field):
    with pytest.raises(StationError) as refused:
        act(built, "save_profile", **{**GIVEN, **changed})
    assert refused.value.field == field
    assert not (tmp_path / "profiles").exists()
    assert adding_view(built).step_id == "adding-build"


def test_nothing_chosen_is_told(built):
    for where in ({}, {"frame": "0"}, {"frame": "0", "from": "9", "to": "x"}):
        with pytest.raises(StationError, match="nothing is chosen"):
            act(built, "mark_sign", **where)


def test_back_leads_to_what_was_heard(built):
    act(built, "back")
    assert adding_view(built).step_id == "adding-listen"
    act(built, "build")
    assert built.state.building.draft.span(Mark.STATE) is not None


def test_a_gauge_counts_from_the_air_and_a_barometer_from_nothing(built):
    draft = built.state.building.draft
    assert made_of.of_role(draft, InstrumentRole.GAUGE).reference == "gauge"
    barometer = made_of.of_role(draft, InstrumentRole.BAROMETER)
    assert (barometer.kind, barometer.reference) == ("pressure", "absolute")
