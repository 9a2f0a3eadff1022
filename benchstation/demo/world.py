"""The virtual bench: one model, and instruments that speak bytes, served or stepped."""

from collections.abc import Callable
from dataclasses import dataclass, field

from benchstation.devices.instrument import Instrument
from benchstation.domain.specification import Specification
from benchstation.domain.surroundings import Surroundings
from benchstation.link.raw_log import Direction
from sample_devices.air import VirtualBarometer, VirtualThermometer
from sample_devices.bench_model import LINE_VOLUME_M3, BenchModel, BenchSetup
from sample_devices.host import Device, Served, serve
from sample_devices.scale import VirtualScale
from sample_devices.transducer import VirtualTransducer

SCALE_SHAPE = "scale-status-first"
GAUGE_SHAPE = "gauge-value-unit"
AIR_TICK_S = 0.05
OLD_FILL = 0.985
OLD_CHARGE = 0.93


@dataclass(slots=True)
class World:
    """What a hand can touch."""

    model: BenchModel
    scale: VirtualScale
    gauge: VirtualTransducer
    thermometer: VirtualThermometer = field(init=False)
    barometer: VirtualBarometer = field(init=False)

    def __post_init__(self) -> None:
        """Hang a thermometer and a barometer on the wall."""
        self.thermometer = VirtualThermometer(self.model)
        self.barometer = VirtualBarometer(self.model)

    def bring_in(self, specification: Specification, rho15_kg_m3: float) -> None:
        """Put a worn unit of this family on the bench: a little oil and gas are missing."""
        free = specification.geometry.model().free_volume_m3
        rho = rho15_kg_m3 - 0.65 * (self.model.setup.ambient_k - 288.15)
        oil_kg = OLD_FILL * specification.oil.volume * rho15_kg_m3
        room = free - oil_kg / rho
        self.model.bring_in(
            free_volume_m3=free,
            rho_oil_kg_m3=rho,
            oil_kg=oil_kg,
            # The fill line with the gauge is put on at once, and takes its share.
            gauge_pa=as_found_pa(specification) * room / (room + LINE_VOLUME_M3),
        )

    def bring_back(
        self, specification: Specification, rho15_kg_m3: float, shown_kg: float, gas_kg: float
    ) -> None:
        """Put a sealed unit back on the bench that waited: as heavy, and as charged, as it was."""
        self.model.bring_in_sealed(
            free_volume_m3=specification.geometry.model().free_volume_m3,
            rho_oil_kg_m3=rho15_kg_m3 - 0.65 * (self.model.setup.ambient_k - 288.15),
            shown_kg=shown_kg,
            gas_kg=gas_kg,
        )


def as_found_pa(specification: Specification) -> float:
    """Return the gauge pressure that a worn unit of this family comes with."""
    return OLD_CHARGE * specification.gas.gauge_pressure


def make_world(seed: int, air: Surroundings, *, cooling_s: float = 6.0) -> World:
    """Make a bench at this temperature and barometer."""
    setup = BenchSetup(
        ambient_pa=air.pressure_pa,
        ambient_k=air.temperature_k,
        humidity=air.humidity,
        cooling_s=cooling_s,
    )
    model = BenchModel(seed, setup)
    return World(model, VirtualScale(model, SCALE_SHAPE), VirtualTransducer(model, GAUGE_SHAPE))


@dataclass(slots=True)
class ServedWorld:
    """A world behind serial ports (or TCP where the system has no pseudo-terminals)."""

    world: World
    scale: Served
    gauge: Served
    thermometer: Served
    barometer: Served

    def close(self) -> None:
        """Pull all plugs and end."""
        for one in (self.scale, self.gauge, self.thermometer, self.barometer):
            one.close()


def serve_world(world: World, clock: Callable[[], float]) -> ServedWorld:
    """Serve every device of a world."""
    return ServedWorld(
        world,
        serve(world.scale, clock),
        serve(world.gauge, clock),
        serve(world.thermometer, clock, AIR_TICK_S),
        serve(world.barometer, clock, AIR_TICK_S),
    )


class SteppedLine:
    """Feeds an instrument from a virtual device without a thread, for history."""

    def __init__(self, instrument: Instrument, device: Device) -> None:
        self._instrument = instrument
        self.device = device
        self._driver = instrument.profile.make_driver()
        self._now = 0.0
        instrument.attach(self._send)

    def _send(self, command: str) -> None:
        self._take(self.device.receive(self._driver.command(command), self._now))

    def step(self, t: float) -> None:
        """Bring what the device says up to ``t``."""
        self._now = t
        self._take(self.device.output(t))
        request = self._driver.poll()
        if request is not None:
            self._take(self.device.receive(request, t))

    def _take(self, data: bytes) -> None:
        if data:
            self._instrument.raw_log.add(self._now, Direction.RECEIVED, data)
        for item in self._driver.feed(data, self._now):
            self._instrument.ingest(item)
