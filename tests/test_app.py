"""The wiring: a real bench from its settings, the demonstration, and what stops before a window."""

import json
import socket
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from benchstation import app
from benchstation.bench.bench_settings import BenchSettings
from benchstation.cli.main import main
from benchstation.config.settings import InstrumentSettings, Settings, load_settings, parse_settings
from benchstation.demo import history, past
from benchstation.demo import shop as demo
from benchstation.domain.events import InstrumentRegistered
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.driver_api.errors import StationError
from benchstation.screens.model.service import PastView
from benchstation.store.engine import open_store
from sample_devices.bench_model import BenchModel
from sample_devices.host import TcpHost, serve
from sample_devices.scale import VirtualScale
from sample_devices.transducer import VirtualTransducer
from tests.bench.onboarding.test_set_up import FAMILY, folder  # noqa: F401 - a fixture
from tests.bench.outputs.test_lamp import TEXT, Listener
from tests.waiting import eventually


@pytest.fixture
def devices():
    model = BenchModel(4)
    served = [
        serve(VirtualScale(model), time.perf_counter),
        serve(VirtualTransducer(model), time.perf_counter),
    ]
    yield [s.url for s in served]
    for host in served:
        host.close()


def window(seen: list, *, sign_in: dict[str, str]):
    """Stand in for the window: look, sign in, and close."""

    def run(port, **_: object) -> int:
        eventually(lambda: not any(reading.stale for reading in port.view().strip))
        port.act("sign_in", sign_in).result(5)
        seen.append(port.view())
        return 0

    return run


def test_a_bench_that_is_set_up_reads_its_devices(folder, devices, monkeypatch):  # noqa: F811
    text = (folder / "bench.toml").read_text("utf-8")
    for port, url in zip(("/dev/ttyUSB0", "/dev/ttyUSB1"), devices, strict=True):
        text = text.replace(f'"{port}"', f'"{url}"')
    (folder / "bench.toml").write_text(text, "utf-8")
    assert main(["set-up", str(folder / "bench.toml")]) == 0
    seen: list = []
    monkeypatch.setattr(
        app, "run_window", window(seen, sign_in={"person": "second", "pin": "864209"})
    )
    assert app.run_bench(load_settings()) == 0
    (view,) = seen
    assert view.person == "Second Lead"
    assert view.shop == "Our workshop"
    assert not any(reading.stale for reading in view.strip)
    assert [c[0] for c in view.task.fields[1].choices] == [FAMILY.removesuffix(".toml")]
    with open_store(folder / "home" / "data" / app.STORE_FILE, "bench-1", read_only=True) as store:
        assert store.verify().ok


SECOND = """
[[instruments.{role}]]
id = "{role}-2"
title = "Second {role}"
profile = "{profile}"
url = "{url}"
"""


def test_a_bench_with_two_of_each_reads_all_and_keeps_the_bytes_of_each(
    folder,  # noqa: F811
    devices,
    monkeypatch,
):
    model = BenchModel(5)
    more = [
        ("scale", "scale-status-first", serve(VirtualScale(model), time.perf_counter)),
        ("gauge", "gauge-value-unit", serve(VirtualTransducer(model), time.perf_counter)),
    ]
    text = (folder / "bench.toml").read_text("utf-8")
    for port, url in zip(("/dev/ttyUSB0", "/dev/ttyUSB1"), devices, strict=True):
        text = text.replace(f'"{port}"', f'"{url}"')
    for role, profile, served in more:
        text = text.replace(f"[instruments.{role}]", f"[[instruments.{role}]]")
        text += SECOND.format(role=role, profile=profile, url=served.url)
    path = 'path_gauges = ["gauge-2", "gauge-1"]\n'
    (folder / "bench.toml").write_text(text.replace("[bench]\n", f"[bench]\n{path}"), "utf-8")
    assert main(["set-up", str(folder / "bench.toml")]) == 0
    seen: list = []
    monkeypatch.setattr(
        app, "run_window", window(seen, sign_in={"person": "second", "pin": "864209"})
    )
    try:
        assert app.run_bench(load_settings()) == 0
    finally:
        for _, _, served in more:
            served.close()
    (view,) = seen
    shown = {reading.id: reading.beside for reading in view.strip}
    assert shown == {"scale-1": False, "scale-2": True, "gauge-1": True, "gauge-2": False}
    raw = {path.name[: len("scale-1")] for path in (folder / "home" / "data" / "raw").iterdir()}
    assert raw == set(shown)


def test_lamp_and_feed_of_the_settings_run_with_the_bench(folder, devices, monkeypatch):  # noqa: F811
    assert main(["set-up", str(folder / "bench.toml")]) == 0
    lamp = Listener()
    host = TcpHost(lamp, time.perf_counter)
    placed = load_settings().model_dump(mode="json", exclude_none=True)
    for instrument, url in zip(placed["instruments"], devices, strict=True):
        instrument["url"] = url
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        placed["feed_port"] = probe.getsockname()[1]
    placed["lamp"] = {"url": host.url, "text": TEXT}
    seen: list = []

    def run(port, **_: object) -> int:
        eventually(lambda: lamp.last == "normal", 5.0)
        eventually(lambda: port.instruments()[-1].reading.number == "normal")
        with (
            socket.create_connection(("127.0.0.1", placed["feed_port"]), 5) as client,
            client.makefile("rb") as lines,
        ):
            kinds = {json.loads(lines.readline())["kind"] for _ in range(20)}
        seen.append(kinds)
        return 0

    monkeypatch.setattr(app, "run_window", run)
    try:
        assert app.run_bench(parse_settings(placed)) == 0
        assert seen[0] >= {"hello", "reading", "health"}
        eventually(lambda: lamp.last == "lost")
    finally:
        host.close()


def test_a_second_program_on_the_same_records_is_told(folder, devices, monkeypatch):  # noqa: F811
    assert main(["set-up", str(folder / "bench.toml")]) == 0
    settings = load_settings()
    with (
        open_store(settings.data_path / app.STORE_FILE, settings.bench_id),
        pytest.raises(StationError, match="another program"),
    ):
        app.run_bench(settings)


class MadeAtOnce:
    """Stands in for the process that makes the past: there as soon as it is begun."""

    made: Path

    def __init__(self, today: object, units: int) -> None:
        self.file: Path | None = None
        self.wanted = False

    def start(self) -> None:
        self.file = self.made

    def view(self) -> PastView:
        return PastView("ready", 1.0, ready=True)

    def close(self) -> None:
        pass


def test_the_demonstration_begins_without_its_past_and_leaves_nothing_behind(monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    made = tmp_path / "made.sqlite"
    with open_store(made, demo.BENCH) as store:
        demo.found(store, history.founded_at(datetime.now(UTC).date(), 1))
        history.work_past(
            store, demo.demo_shop(store), range(1), datetime.now(UTC) - timedelta(days=1)
        )
    for file in tmp_path.iterdir():
        if file != made:
            file.unlink()
    monkeypatch.setattr(MadeAtOnce, "made", made, raising=False)
    monkeypatch.setattr(past, "PastInMaking", MadeAtOnce)
    rows: list = []

    def run(port, *, demo_hand, on_shown, **_: object) -> int:
        if on_shown is not None:
            on_shown()
        eventually(lambda: "MR-3101" in str(port.find_records("").result(10)), 20.0)
        rows.append([row.serial for row in port.find_records("").result(10)])
        assert (demo_hand.past() is None) == (len(rows) == 2)
        assert "not ready" in demo_hand.open_past() or demo_hand.making.wanted
        return 0

    monkeypatch.setattr(app, "run_window", run)
    assert app.run_demo(units=1) == 0
    today, whole = rows
    assert "MR-3101" in today
    assert set(whole) == {*today, "MR-1000"}
    assert [p.name for p in tmp_path.iterdir()] == ["made.sqlite"]


def test_a_bench_without_settings_and_display_says_how_to_set_up(monkeypatch):
    monkeypatch.setattr(app, "display_problem", lambda: "There is no display here.")
    with pytest.raises(app.NotSetUpError, match="not set up"):
        app.run_bench(Settings())


def test_an_instrument_is_kept_in_its_place_in_the_settings(folder):  # noqa: F811
    assert main(["set-up", str(folder / "bench.toml")]) == 0
    before = load_settings()
    new = InstrumentSettings(
        id="scale-2", role=InstrumentRole.SCALE, profile="scale-status-word", url="/dev/p9"
    )
    BenchSettings(before, app.write_settings).keep_instrument(new, "scale-1")
    after = load_settings()
    assert after.instruments == (new, before.instruments[1])
    kept = {"instruments": before.instruments, "path_gauges": before.path_gauges}
    assert after.model_copy(update=kept) == before


def test_the_settings_say_which_instrument_is_fitted(folder, devices, monkeypatch):  # noqa: F811
    """One was put on record and its settings were never written; its profile is gone as well."""
    assert main(["set-up", str(folder / "bench.toml")]) == 0
    settings = load_settings()
    lost = InstrumentRegistered(
        "scale-2", "scale", "Lost", "no-such-profile", "", 1.0, 0.0, 0.0, "", "", ""
    )
    with open_store(settings.data_path / app.STORE_FILE, settings.bench_id) as store:
        store.append([lost], person="x", utc=datetime.now(UTC))
    seen: list = []
    monkeypatch.setattr(app, "run_window", lambda port, **_: seen.append(port.instruments()) or 0)
    assert app.run_bench(settings) == 0
    assert [view.title for view in seen[0]] == ["Bench scale", "Charge gauge"]


def test_a_first_start_that_is_closed_leaves_nothing(monkeypatch, tmp_path):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    asked: list = []
    monkeypatch.setattr(app, "run_first_start", lambda start: asked.append(start.adding()))
    assert app.run_bench(Settings()) == 0
    assert [card.action.id for card in asked[0].cards] == ["demo", "set_up"]
    assert not (tmp_path / "home").exists()
