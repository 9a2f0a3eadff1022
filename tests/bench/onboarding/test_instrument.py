"""The steps of an instrument without a window: each can be stopped, and the port is let go."""

import time
from datetime import date

import pytest

from benchstation.bench.certificate_form import is_given
from benchstation.bench.onboarding import instrument as adding_module
from benchstation.bench.onboarding.instrument import Adding, Places
from benchstation.devices.profile import load_profile
from benchstation.domain.materials import Sort
from benchstation.domain.receiving import Described, material_of
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.errors import StationError
from benchstation.link.ports import Port
from benchstation.screens.instruments.onboarding import adding_view
from benchstation.screens.model.elements import Tone
from sample_devices.air import VirtualBarometer, VirtualHygrometer, VirtualThermometer
from sample_devices.bench_model import BenchModel
from sample_devices.host import TcpHost
from sample_devices.scale import VirtualScale
from tests.devices.test_adding import Line
from tests.waiting import eventually

WITHIN_S = 10.0
WEIGHT = {
    "lot": "W-1",
    "weight_class": "F2",
    "certificate": "C-9",
    "until": "2099-01-31",
}
"""A check weight as its certificate describes it, without its nominal mass."""


class Keeper:
    """Takes note of what it is asked."""

    def __init__(self) -> None:
        self.said, self.saved, self.refusal, self.known = [], [], None, []
        self.fitted = Places()

    def begin(self):
        if self.refusal:
            raise self.refusal

    def used_by(self, url):
        return "Old scale" if url == "/dev/p2" else ""

    def let_go(self, url):
        self.said.append(("let go", url))

    def take_back(self):
        self.said.append(("take back", ""))

    def places(self, role, url):
        return self.fitted

    def new_id(self, role):
        return f"{role}-7"

    def weights(self):
        return self.known

    def save(self, new):
        self.saved.append(new)
        return "saved."


@pytest.fixture
def keeper():
    return Keeper()


@pytest.fixture
def steps(keeper, monkeypatch, tmp_path):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    found = [Port("/dev/p1", "usb:0001:0002:A", "", "Adapter"), Port("/dev/p2")]
    monkeypatch.setattr(adding_module, "ports", lambda: found)
    made = Adding(keeper, listen_s=0.3)
    yield made
    made.close()


@pytest.fixture
def url():
    model = BenchModel(3)
    model.on_pan = "check weight"
    host = TcpHost(VirtualScale(model, rate_hz=50.0, noise_kg=1e-6), time.perf_counter)
    yield host.url
    host.close()


def act(steps, action, **fields):
    return steps.adding_act(action, fields).result(WITHIN_S)


def to_prove(steps, url):
    act(steps, "begin")
    act(steps, "listen", address=url)
    act(steps, "match", row="scale-status-first")
    eventually(
        lambda: not adding_view(steps).big.stale and "moving" not in adding_view(steps).big.caption
    )


def to_save(steps, url, **named):
    to_prove(steps, url)
    act(steps, "check", nominal="200 g", **WEIGHT)
    name(steps, **named)


def name(steps, **named):
    """Name it, then give what there is of a certificate, or say that there is none."""
    act(steps, "name", **{"id": "s", "title": "Scale", **named})
    act(steps, "certificate" if is_given(named) else "none_yet", **named)


def test_ports_are_shown_by_what_stays_the_same_of_them(steps):
    assert adding_view(steps) is None
    act(steps, "begin")
    one, two = adding_view(steps).rows
    assert (one.key, one.title, one.state) == ("usb:0001:0002:A", "Adapter", "free")
    assert two.state == "in use: Old scale"
    assert adding_view(steps).row == one.key


def test_a_row_is_taken_when_no_address_is_typed(steps, keeper, monkeypatch):
    line = Line(LineSettings())
    monkeypatch.setattr("benchstation.devices.adding.open_transport", line.open)
    act(steps, "begin")
    with pytest.raises(NotAllowedError, match="no port is chosen"):
        act(steps, "listen")
    act(steps, "listen", row="usb:0001:0002:A", address="")
    assert keeper.said[0] == ("let go", "usb:0001:0002:A")
    assert line.closed == 1
    assert line.sent == []


def test_nothing_is_kept_before_the_last_step(steps, keeper, url):
    to_save(steps, url)
    assert keeper.saved == []
    assert steps.instrument is None, "the port is closed while it is named"
    assert act(steps, "save") == "saved."
    (new,) = keeper.saved
    assert new.registered.instrument_id == new.checked.instrument_id == "s"
    assert new.settings.url == url
    assert new.registered.calibrated_until == ""
    assert adding_view(steps) is None


FITTED = (("scale-1", "Old scale"), ("scale-2", "Floor scale"))


@pytest.mark.parametrize(
    ("meant", "chosen"), [("", "-"), ("scale-2", "scale-2")], ids=["beside", "in a place"]
)
def test_where_one_is_fitted_already_it_is_asked_whose_place_it_takes(
    steps, keeper, url, meant, chosen
):
    keeper.fitted = Places(FITTED, meant)
    to_prove(steps, url)
    act(steps, "check", nominal="200 g", **WEIGHT)
    place, use = adding_view(steps).fields[:2]
    assert [value for value, _ in place.choices] == ["scale-1", "scale-2", "-"]
    assert (place.value, use.id) == (chosen, "use")
    with pytest.raises(NotAllowedError, match="not said whose place"):
        act(steps, "name", id="s", title="Scale", place="")
    name(steps, place=place.value, use="heavy units")
    said = [text for text, _ in adding_view(steps).lines]
    told = "It stands beside the other scale." if not meant else "Floor scale leaves the bench"
    assert any(line.startswith(told) for line in said)
    act(steps, "save")
    (new,) = keeper.saved
    assert (new.instead_of, new.settings.use) == (meant, "heavy units")


def test_the_first_of_its_role_is_asked_nothing_more(steps, keeper, url):
    to_save(steps, url)
    act(steps, "save")
    assert keeper.saved[0].instead_of == ""


def test_leaving_closes_and_takes_back(steps, keeper, url):
    to_prove(steps, url)
    instrument = steps.instrument
    act(steps, "leave")
    assert adding_view(steps) is None
    assert not instrument.reader.thread.is_alive()
    assert keeper.said[-1] == ("take back", "")


def test_closing_ends_listening_at_once(steps, url):
    steps.listen_s = 60.0
    act(steps, "begin")
    listening = steps.adding_act("listen", {"address": url})
    eventually(lambda: adding_view(steps) is not None and adding_view(steps).busy)
    begun = time.monotonic()
    steps.close()
    assert time.monotonic() - begun < 5.0
    assert listening.done()


def test_a_port_that_cannot_be_opened_leads_back(steps, keeper):
    act(steps, "begin")
    with pytest.raises(StationError, match="nobody answers"):
        act(steps, "listen", address="socket://127.0.0.1:9")
    assert adding_view(steps).step_id == "adding-port"
    assert keeper.said[-1] == ("take back", "")


def test_whoever_may_not_begins_nothing(steps, keeper):
    keeper.refusal = NotAllowedError("a unit is on the bench.")
    with pytest.raises(NotAllowedError, match="on the bench"):
        act(steps, "begin")
    assert adding_view(steps) is None
    with pytest.raises(NotAllowedError, match="no action"):
        act(steps, "save")


def test_a_scale_takes_no_typed_mass_in_place_of_a_check_weight(steps, url):
    to_prove(steps, url)
    with pytest.raises(NotAllowedError, match="not said which check weight"):
        act(steps, "check")
    with pytest.raises(NotAllowedError, match="lot or id is missing"):
        act(steps, "check", nominal="200 g")
    for name_of, wrong, said in (
        ("weight_class", "", "class is missing"),
        ("certificate", "", "certificate is missing"),
        ("until", "", "until which it is calibrated"),
        ("until", "2020-01-31", "ran out on 2020-01-31"),
    ):
        with pytest.raises(NotAllowedError, match=said) as refused:
            act(steps, "check", nominal="200 g", **(WEIGHT | {name_of: wrong}))
        assert refused.value.field == name_of
    with pytest.raises(NotAllowedError, match="no weight of class F2"):
        act(steps, "check", nominal="210 g", **WEIGHT)
    assert adding_view(steps).step_id == "adding-prove"


def test_the_check_weight_comes_on_record_with_the_scale(steps, keeper, url):
    to_save(steps, url)
    act(steps, "save")
    (new,) = keeper.saved
    received, registered, checked = new.events
    assert (received.kind, registered.kind) == ("material.received", "instrument.registered")
    weight = received.material
    assert (weight.sort, weight.lot, weight.nominal_kg) == (Sort.WEIGHT, "W-1", 0.2)
    assert (weight.weight_class, weight.until) == ("F2", "2099-01-31")
    # 3 mg: OIML R 111-1:2004, table 1, 200 g of class F2.
    assert (checked.weight, checked.weight_error) == ("W-1", pytest.approx(3e-6))


def test_a_check_weight_on_record_is_chosen_and_not_received_again(steps, keeper, url):
    given = Described(Sort.WEIGHT, "", "CW-7", "W", "L", "2099-01-31", "M-1", 0.2, "F1")
    keeper.known = [material_of(given, date(2026, 1, 5))]
    to_prove(steps, url)
    choice = adding_view(steps).fields[0]
    assert (choice.id, choice.value) == ("weight", "CW-7")
    act(steps, "check", weight="CW-7")
    name(steps)
    act(steps, "save")
    (new,) = keeper.saved
    assert new.received == ()
    assert (new.checked.weight, new.checked.nominal) == ("CW-7", 0.2)


def test_each_step_leads_back_to_the_one_before(steps, url):
    to_save(steps, url)
    seen = [adding_view(steps).step_id]
    for _ in range(5):
        act(steps, "back")
        seen.append(adding_view(steps).step_id)
    way = ("save", "certificate", "name", "prove", "match", "port")
    assert seen == [f"adding-{stage}" for stage in way]
    assert steps.instrument is None


def test_a_check_that_was_not_made_cannot_be_gone_on_with(steps, url):
    to_prove(steps, url)
    with pytest.raises(NotAllowedError, match="not checked yet"):
        act(steps, "go_on")
    with pytest.raises(StationError):
        act(steps, "check", nominal="plenty", **WEIGHT)
    act(steps, "check", nominal="100 g", **WEIGHT)
    assert "must show 100.00 g ± 0.05 g" in adding_view(steps).lines[0][0]
    act(steps, "go_on")
    name(steps)
    assert "nothing is captured until one passes" in adding_view(steps).lines[0][0]


LAB = {"laboratory": "Kalibrierlabor Süd"}


@pytest.mark.parametrize(
    ("named", "words"),
    [
        ({"id": "a b"}, "id"),
        ({"title": ""}, "title"),
        ({"u": "0.02 g"}, "the certificate has no number"),
        (
            {"u": "0.02 bar", "on": "2026-01-01", "until": "2027-01-01", "certificate": "C", **LAB},
            "mass",
        ),
        (
            {"u": "0.02 g", "on": "2026-01-01", "until": "2025-01-01", "certificate": "C", **LAB},
            "later",
        ),
        (
            {"u": "-1 g", "on": "2026-01-01", "until": "2027-01-01", "certificate": "C", **LAB},
            "never below zero",
        ),
    ],
)
def test_wrong_names_and_certificates_are_refused(steps, url, named, words):
    to_prove(steps, url)
    act(steps, "check", nominal="200 g", **WEIGHT)
    with pytest.raises(StationError) as refused:
        name(steps, **named)
    assert words in str(refused.value)
    at = "certificate" if is_given(named) else "name"
    assert adding_view(steps).step_id == f"adding-{at}"
    kept = {field.id: field.value for field in adding_view(steps).fields}
    assert named.items() <= kept.items()


def test_a_device_on_another_line_brings_its_profile_with_it(steps, keeper, monkeypatch, tmp_path):
    """It speaks at 1200 7O1 and its profile says 9600 8N1: the copy is written when it is saved."""
    line = Line(LineSettings(1200, 7, "O"))
    for place in ("devices.adding", "devices.instrument"):
        monkeypatch.setattr(f"benchstation.{place}.open_transport", line.open)
    monkeypatch.setattr(
        "benchstation.devices.discovery.COMMON_FORMATS", ((8, "N"), (7, "E"), (7, "O"))
    )
    monkeypatch.setattr("benchstation.devices.discovery.COMMON_RATES", (1200,))
    steps.listen_s = 0.02
    act(steps, "begin")
    act(steps, "listen", address="/dev/p1")
    assert adding_view(steps).step_id == "adding-listen"
    with pytest.raises(NotAllowedError, match="nothing was tried"):
        act(steps, "others")
    assert len(line.opened) == 1
    act(steps, "others", consent="yes")
    assert "1200 7O1" in adding_view(steps).rows[0].words
    act(steps, "match", row="scale-status-first")
    eventually(lambda: not adding_view(steps).big.stale)
    assert line.opened[-1] == line.speaks
    act(steps, "check", nominal="100 g", **WEIGHT)
    act(steps, "go_on")  # it shows 123.45 g
    name(steps)
    assert not (tmp_path / "profiles").exists()
    act(steps, "save")
    (new,) = keeper.saved
    new.keep_profile([])
    again = load_profile(new.settings.profile, [tmp_path / "profiles"])
    assert again.line_settings == line.speaks
    assert new.registered.profile_id == again.id
    assert line.sent == []


def test_a_small_uncertainty_does_not_show_as_none(steps, url):
    day = {"on": "2026-01-01", "until": "2099-01-01", "certificate": "C", **LAB}
    to_save(steps, url, u="0.03 g", **day)
    shown = {term.label: term.value for group in adding_view(steps).groups for term in group.terms}
    assert shown["Standard uncertainty"] == "0.030 g"


DEVICES = {
    "thermometer": (VirtualThermometer, "thermometer-value-unit"),
    "barometer": (VirtualBarometer, "barometer-value-unit"),
    "hygrometer": (VirtualHygrometer, "hygrometer-value-unit"),
}


@pytest.fixture
def of_air(request):
    device, _ = DEVICES[request.param]
    host = TcpHost(device(BenchModel(3), rate_hz=50.0), time.perf_counter)
    yield request.param, host.url
    host.close()


def prove(steps, role, url):
    act(steps, "begin")
    act(steps, "listen", address=url)
    act(steps, "match", row=DEVICES[role][1])
    eventually(lambda: not adding_view(steps).big.stale)


@pytest.mark.parametrize(
    ("of_air", "shown", "near", "far", "said", "u"),
    [
        ("thermometer", "°C", "21.9 °C", "25 °C", "must show 25.0 °C ± 1.0 K", "0.2 K"),
        ("barometer", "hPa", "1010 hPa", "1015 hPa", "must show 1015.0 hPa ± 3.0 hPa", "0.5 hPa"),
        ("hygrometer", "% RH", "43 %", "60 %", "must show 60 % RH ± 5 % RH", "2 %"),
    ],
    indirect=["of_air"],
)
def test_an_instrument_of_the_air_is_proven_beside_a_trusted_one(
    steps, keeper, of_air, shown, near, far, said, u
):
    role, url = of_air
    prove(steps, role, url)
    assert adding_view(steps).big.unit == shown
    with pytest.raises(NotAllowedError, match="nothing to compare it with"):
        act(steps, "check")
    with pytest.raises(StationError):
        act(steps, "check", nominal="200 g", **WEIGHT)
    act(steps, "check", nominal=far)
    assert said in adding_view(steps).lines[0][0]
    act(steps, "check", nominal=near)
    day = {"on": "2026-01-01", "until": "2099-01-01", "certificate": "C", **LAB}
    with pytest.raises(StationError):
        name(steps, id="a", title="Air", u="0.03 g", **day)
    name(steps, id="a", title="Air", u=u, **day)
    proof = adding_view(steps).groups[1].terms[0]
    assert (proof.label, proof.value) == ("Comparison", "passed")
    act(steps, "save")
    (new,) = keeper.saved
    assert (new.settings.role, new.registered.role, new.checked.passed) == (role, role, True)


def test_an_uncertainty_of_another_kind_is_refused_of_a_scale_too(steps, url):
    """30 mbar was taken as a scale's uncertainty where a file said so: 3000 kg."""
    day = {"on": "2026-01-01", "until": "2099-01-01", "certificate": "C", **LAB}
    to_prove(steps, url)
    act(steps, "check", nominal="200 g", **WEIGHT)
    with pytest.raises(StationError, match="mass"):
        name(steps, u="30 mbar", **day)


def test_the_points_of_a_certificate_are_asked_for_and_evaluated(steps, keeper, url):
    points = "0 0.00\n100 100.10\n200 200.20\n100 100.12\n0 0.01"
    day = {"on": "2026-01-01", "until": "2099-01-01", "certificate": "C", **LAB}
    to_save(steps, url, points=points, **day)
    act(steps, "save")
    kept = keeper.saved[0].registered
    assert kept.gain == pytest.approx(0.999, abs=2e-4)
    assert kept.calibration.laboratory == "Kalibrierlabor Süd"
    assert len(kept.calibration.left.points) == 5


def test_an_expired_certificate_is_told_before_it_is_saved(steps, url):
    to_save(steps, url, u="0.03 g", on="2024-01-01", until="2025-01-01", certificate="C", **LAB)
    text, tone = adding_view(steps).lines[0]
    assert "expired on 2025-01-01" in text
    assert tone is Tone.DANGER
