"""Settings changed in the window: judged as in the file, signed where they weigh, on record."""

import hashlib

import pytest

from benchstation.bench.bench_settings import (
    FILE_ONLY,
    ITEMS,
    RATINGS,
    WEIGHING,
    BenchSettings,
    Group,
    found_changed,
    items_of,
    on_record,
)
from benchstation.config.settings import LampSettings, Settings, SettingsError, parse_settings
from benchstation.demo import shop as demo
from benchstation.devices.profile import profile_text
from benchstation.domain.events import BenchSettingChanged
from benchstation.domain.guard import AlarmKind
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem
from benchstation.store.errors import StoreError

LEAD = "oberhauser"
SIGNED = {"reason": "new hose", "signature": demo.PIN}


@pytest.fixture
def lead(bench):
    """A bench with settings of its own, where the lead stands."""
    bench.saved = []
    settings = Settings(path_ratings=demo.RATINGS, shop=demo.NAME)
    bench.session.go_by(BenchSettings(settings, bench.saved.append))
    bench.sign_in(LEAD)
    return bench


def change(bench, group, **form):
    return bench.session.act("change_settings", {"group": group, **form})


def show(bench, gauge_pa: float) -> None:
    """Have the gauge show this much."""
    bench.world.gauge.offset_pa += gauge_pa - bench.session.gauge.instrument.latest().value
    bench.run(1.5)


def ratings(**parts: str) -> dict[str, str]:
    form = {}
    for number, (part, rating) in enumerate(parts.items()):
        form |= {f"part:{number}": part, f"rating:{number}": rating}
    return form


def facts(bench) -> list[BenchSettingChanged]:
    return [e.event for e in bench.store.entries(kind=BenchSettingChanged.kind)]


def test_a_rating_is_the_guards_limit_at_once_and_on_record_with_what_it_was(lead):
    said = change(lead, "pressure path", **ratings(hose="30 bar", gauge="580 psi"), **SIGNED)
    assert said == "Saved and put on record."
    session = lead.session
    assert session.shop.limits_at(None, 1.0).limit_gauge_pa == pytest.approx(30e5)
    assert session.settings.now == lead.saved[-1]
    show(lead, 31e5)
    assert session.watch.snapshot().alarms[0].kind is AlarmKind.HIGH_LIMIT
    (fact,) = facts(lead)
    assert (fact.setting, fact.before, fact.reason) == (RATINGS, demo.RATINGS, "new hose")
    assert fact.after == pytest.approx({"hose": 30e5, "gauge": 580 * 6894.757293168}, rel=1e-9)


@pytest.mark.parametrize(
    ("system", "text", "pa"),
    [(UnitSystem.METRIC, "28", 28e5), (UnitSystem.INCH_POUND, "400", 400 * 6894.757293168)],
)
def test_a_number_alone_is_in_the_units_that_are_shown(lead, system, text, pa):
    change(lead, "pressure path", units=system.value, **ratings(hose=text), **SIGNED)
    assert lead.session.settings.now.path_ratings["hose"] == pytest.approx(pa, rel=1e-9)


@pytest.mark.parametrize(
    ("form", "said", "field"),
    [
        (ratings(hose=""), "no rating", "rating:0"),
        ({"part:0": " ", "rating:0": "30 bar"}, "no name", "part:0"),
        ({"part:0": "", "rating:0": ""}, "has no rating", "rating:0"),
        (ratings(hose="30 g"), "pressure", "rating:0"),
        (ratings(hose="thirty"), "thirty", "rating:0"),
        (ratings(hose="-3 bar"), "greater than 0", ""),
        (
            {**ratings(hose="30 bar"), "part:1": "hose", "rating:1": "40 bar"},
            "stands twice",
            "part:1",
        ),
        ({"fill_tool_volume_m3": "2 L"}, "fill_tool_volume_m3", "fill_tool_volume_m3"),
        ({"fill_tool_volume_m3": "2 bar"}, "volume", "fill_tool_volume_m3"),
    ],
)
def test_what_is_no_rating_is_refused_at_its_field_and_changes_nothing(lead, form, said, field):
    before = lead.session.settings.now
    with pytest.raises(StationError, match=said) as raised:
        change(lead, "pressure path", **form, **SIGNED)
    assert raised.value.field.startswith(field)
    assert lead.session.settings.now is before
    assert not facts(lead)
    assert not lead.saved


@pytest.mark.parametrize(
    ("signed", "said", "field"),
    [
        ({"reason": "", "signature": demo.PIN}, "needs a reason", "reason"),
        ({"reason": "new hose", "signature": "135790"}, "not your PIN", "signature"),
        ({"reason": "new hose"}, "signed with your PIN", "signature"),
    ],
)
def test_what_weighs_on_evidence_wants_a_reason_and_the_pin(lead, signed, said, field):
    with pytest.raises(NotAllowedError, match=said) as raised:
        change(lead, "pressure path", **ratings(hose="30 bar"), **signed)
    assert raised.value.field == field
    assert not facts(lead)


def test_wrong_pins_make_wait_here_too(lead):
    for _ in range(5):
        with pytest.raises(NotAllowedError, match="not your PIN"):
            change(lead, "checks", daily_check="false", reason="x", signature="000000")
    with pytest.raises(NotAllowedError, match="too many wrong PINs"):
        change(lead, "checks", daily_check="false", reason="x", signature=demo.PIN)


def test_a_technician_changes_nothing(lead):
    lead.sign_in("kofler")
    with pytest.raises(NotAllowedError, match="bench lead"):
        change(lead, "window", theme="light")


def test_what_a_unit_rests_on_waits_until_it_is_filed_or_abandoned(lead):
    lead.session.act("open", {"serial": "T-2", "specification": "mr-46-front", "lot": "L-0417"})
    with pytest.raises(NotAllowedError, match="is on the bench"):
        change(lead, "pressure path", **ratings(hose="30 bar"), **SIGNED)
    assert change(lead, "window", theme="light") == "Saved. Theme: from the next start on."


def test_no_limit_is_raised_away_from_under_an_open_alarm(lead):
    show(lead, 38e5)
    assert lead.session.watch.snapshot().alarms
    with pytest.raises(NotAllowedError, match="an alarm is open"):
        change(lead, "pressure path", **ratings(hose="90 bar"), **SIGNED)
    assert lead.session.shop.ratings == demo.RATINGS


def test_each_setting_of_the_rest_is_gone_by_at_once(lead, tmp_path):
    session = lead.session
    change(lead, "checks", daily_check="false", **SIGNED)
    assert not any(one.checked_daily for one in session.instruments.of(InstrumentRole.SCALE))
    change(lead, "people at the bench", sign_out_after_s="5 min", **SIGNED)
    assert session.signed_in.idle.after_s == 300.0
    change(lead, "shop and folders", photo_folder=str(tmp_path), shop="Werkstatt Süd")
    assert (session.photo_folder, session.shop.name) == (tmp_path, "Werkstatt Süd")
    change(lead, "air", altitude_m="366 m", **SIGNED)
    assert session.settings.now.altitude_m == 366.0
    change(lead, "air", altitude_m="1200", units="inch-pound", **SIGNED)
    assert session.settings.now.altitude_m == pytest.approx(365.76)
    change(lead, "air", altitude_m="", **SIGNED)
    assert session.settings.now.altitude_m is None
    assert [f.setting for f in facts(lead)] == [
        "daily_check",
        "sign_out_after_s",
        "altitude_m",
        "altitude_m",
        "altitude_m",
    ]


def test_a_lamp_is_made_from_its_fields_and_taken_away(lead):
    off = {f"lamp:{name}": "none" for name in ("rts", "dtr")}
    said = change(
        lead,
        "lamp and feed",
        **{**off, "lamp:url": "gauge", "lamp:rts": "normal"},
        feed_port="4711",
    )
    assert said == "Saved. Port of the feed and Lamp: from the next start on."
    lamp = lead.session.settings.now.lamp
    assert lamp == LampSettings.model_validate(
        {"url": "gauge", "rts": {"steady": ["normal"], "fail_safe": "off"}}
    )
    with pytest.raises(SettingsError, match="give rts, dtr or both"):
        change(lead, "lamp and feed", **{**off, "lamp:url": "COM7"})
    sent = {f"lamp:{n}": f"{n.upper()}\\r\\n" for n in ("normal", "warning", "acknowledged")}
    sent |= {"lamp:alarm": "\\x02A\\x03", "lamp:lost": "L"}
    change(lead, "lamp and feed", **{**off, "lamp:url": "COM7", **sent})
    text = lead.session.settings.now.lamp.text
    assert (text.normal, text.alarm, text.lost) == ("NORMAL\r\n", "\x02A\x03", "L")
    change(lead, "lamp and feed", **{"lamp:url": ""}, feed_port="")
    assert (lead.session.settings.now.lamp, lead.session.settings.now.feed_port) == (None, None)


def test_a_lamps_line_of_another_kind_is_kept_as_the_file_has_it(lead):
    odd = {"url": "COM7", "rts": {"steady": ["normal", "warning"], "fail_safe": "off"}}
    settings = Settings.model_validate({"path_ratings": demo.RATINGS, "lamp": odd})
    lead.session.go_by(BenchSettings(settings))
    change(lead, "lamp and feed", **{"lamp:url": "COM8", "lamp:rts": "kept", "lamp:dtr": "none"})
    lamp = lead.session.settings.now.lamp
    assert (lamp.url, lamp.rts.steady) == ("COM8", ("normal", "warning"))


def test_nothing_changed_says_so_and_asks_for_nothing(lead):
    same = {f"part:{n}": p for n, p in enumerate(demo.RATINGS)}
    same |= {f"rating:{n}": f"{v} Pa" for n, v in enumerate(demo.RATINGS.values())}
    assert change(lead, "pressure path", **same) == "Nothing was changed."
    assert not lead.saved


def test_a_journal_that_takes_nothing_leaves_file_and_bench_as_they_were(lead, monkeypatch):
    before = lead.session.settings.now

    def full(*_args, **_kwargs):
        raise StoreError("the disk is full.")

    monkeypatch.setattr(lead.store, "append", full)
    with pytest.raises(StoreError):
        change(lead, "pressure path", **ratings(hose="30 bar"), **SIGNED)
    assert lead.session.settings.now == before == lead.saved[-1]
    assert lead.session.shop.ratings == demo.RATINGS


def test_a_file_that_cannot_be_written_puts_nothing_on_record(lead):
    def refuse(_):
        raise SettingsError("the settings cannot be written.")

    lead.session.go_by(BenchSettings(lead.session.settings.now, refuse))
    with pytest.raises(SettingsError):
        change(lead, "pressure path", **ratings(hose="30 bar"), **SIGNED)
    assert not facts(lead)


def test_what_was_changed_in_the_file_is_found_at_the_next_start(lead):
    change(lead, "pressure path", **ratings(hose="30 bar"), **SIGNED)
    now = lead.session.settings.now
    first = found_changed(now, lead.store)
    names = (*(item.name for item in WEIGHING), *FILE_ONLY)
    there = {name for name in names if getattr(now, name) is not None}
    assert {f.setting for f in first} == there - {RATINGS}
    lead.store.append(list(first), person="set-up", utc=lead.session.clock.utc())
    assert found_changed(now, lead.store) == ()
    edited = now.model_copy(update={"path_ratings": {"hose": 90e5}})
    (fact,) = found_changed(edited, lead.store)
    assert fact == BenchSettingChanged(RATINGS, {"hose": 30e5}, {"hose": 90e5})
    assert on_record(lead.store)[RATINGS] == {"hose": 30e5}


OFF_THE_PAGE = {
    *("version", "bench_id", "data_dir"),  # what a bench is, and where it keeps it
    "instruments",  # the page Instruments
    *("shop_url", "desk_url"),  # the commands of the shop
    "lamp",  # fields of its own on the page
    "more_backup_folders",  # the file alone, as those that weigh on evidence
    *FILE_ONLY,
}


def test_a_setting_of_the_file_is_on_the_page_or_said_to_be_elsewhere():
    assert set(Settings.model_fields) - {item.name for item in ITEMS} == OFF_THE_PAGE


def test_every_setting_is_one_of_the_file_and_stands_in_one_group():
    names = [item.name for item in ITEMS]
    assert len(set(names)) == len(names)
    assert set(names) <= set(Settings.model_fields)
    assert sum(len(items_of(group)) for group in Group) == len(ITEMS)
    assert all(items_of(group) for group in Group)


def test_an_altitude_takes_the_place_of_a_barometer_that_a_file_has_set(lead):
    settings = Settings(path_ratings=demo.RATINGS, barometer_pa=99_000)
    lead.session.go_by(BenchSettings(settings))
    change(lead, "air", altitude_m="640 m", **SIGNED)
    now = lead.session.settings.now
    assert (now.altitude_m, now.barometer_pa) == (640.0, None)


# --- ports, profiles, and what only the file changes ----------------------------------------------


PORTS = {
    "instruments": [
        {"id": "scale-1", "role": "scale", "profile": "scale-status-first", "url": "/dev/ttyUSB0"},
        {"id": "gauge-1", "role": "gauge", "profile": "gauge-value-unit", "url": "/dev/ttyUSB1"},
    ]
}


def found(lead, **changes):
    """What a start finds changed in a file with these settings; it goes on record."""
    settings = parse_settings({**PORTS, **changes})
    told = found_changed(settings, lead.store)
    if told:
        lead.store.append(list(told), person="set-up", utc=lead.session.clock.utc())
    return {fact.setting: (fact.before, fact.after) for fact in told}


def test_a_port_and_a_profile_that_were_changed_by_hand_are_found_at_the_next_start(lead):
    told = found(lead)
    role, profile, sha256, url, *_ = told["instrument:scale-1"][1]
    assert (role, profile, url) == ("scale", "scale-status-first", "/dev/ttyUSB0")
    text = profile_text("scale-status-first", [])
    assert sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert found(lead) == {}
    moved = [{**PORTS["instruments"][0], "url": "replay:old.rec"}, PORTS["instruments"][1]]
    told = found(lead, instruments=moved)
    assert list(told) == ["instrument:scale-1"]
    before, after = told["instrument:scale-1"]
    assert (before[3], after[3]) == ("/dev/ttyUSB0", "replay:old.rec")
    told = found(lead, instruments=PORTS["instruments"][1:])
    assert told["instrument:scale-1"][1] is None
    assert found(lead, instruments=PORTS["instruments"][1:]) == {}


def test_a_profile_of_the_own_that_was_edited_is_found_by_its_hash(lead, tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    own = tmp_path / "profiles" / "own-scale.toml"
    own.parent.mkdir()
    text = profile_text("scale-status-first", []).replace("scale-status-first", "own-scale")
    own.write_text(text, "utf-8")
    instruments = [{**PORTS["instruments"][0], "profile": "own-scale"}, PORTS["instruments"][1]]
    found(lead, instruments=instruments)
    own.write_text(f"{text}\n# edited", "utf-8")
    told = found(lead, instruments=instruments)
    assert list(told) == ["instrument:scale-1"]
    before, after = told["instrument:scale-1"]
    assert before[2] != after[2]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("barometer_pa", 9.6e4),
        ("bench_temperature_k", 300.0),
        ("alarm_again_rise", 0.1),
        ("alarm_again_after_s", 120.0),
        ("second_signature_after_s", 60.0),
        ("path_ratings", {"hose": 1e8}),
    ],
)
def test_what_only_the_file_changes_is_found_too(lead, name, value):
    found(lead)
    assert list(found(lead, **{name: value})) == [name]
