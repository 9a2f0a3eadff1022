"""A stack light or relay that follows the guard: a thread of its own, told by the reader's.

The thread that judges the guard only leaves its word (:meth:`Lamp.tell`), the last one wins; the
lamp's thread shows it. So the lamp needs neither the bench nor a window, and a port that blocks
holds nobody up. It warns beside the window; it is no safety device and switches no supply.
"""

import logging
import math
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from benchstation.clock import seconds_slept_too
from benchstation.devices.instrument import HealthReport
from benchstation.domain.guard import AlarmKind, GuardSnapshot, Transition
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Health
from benchstation.link.output import Output, Signal

log = logging.getLogger(__name__)
HALF_FLASH_S = 0.25
"""2 flashes a second, as IEC 60073 has them for what is urgent (1.4 to 2.8 Hz; from memory)."""
LOOK_S = 0.25
"""How often at least the port is looked at, so that its loss is seen."""
FIRST_BACK_OFF_S, LONGEST_BACK_OFF_S = 0.1, 2.0
STOP_WITHIN_S = 4.0
RECENT = 6


class Light(StrEnum):
    """What the lamp shows of the guard. ``LOST``: the pressure or the guard is not known."""

    NORMAL = "normal"
    WARNING = "warning"
    ALARM = "alarm"
    ACKNOWLEDGED = "acknowledged"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class Pattern:
    """The two halves of a flash; a steady light has one signal twice."""

    first: Signal
    second: Signal


def light_of(seen: GuardSnapshot) -> Light:
    """Return the light for a moment of the guard: the worst that is open decides.

    A limit that nobody has acknowledged comes before all; then a pressure that is not known, also
    when its alarm is acknowledged. A warning beside an acknowledged limit does not lower it.
    """
    graver = [alarm for alarm in seen.alarms if alarm.kind is not AlarmKind.HIGH_WARNING]
    waiting = [alarm.kind for alarm in graver if alarm.state.unacknowledged]
    if AlarmKind.HIGH_LIMIT in waiting:
        return Light.ALARM
    if seen.gauge_pa is None:
        return Light.LOST
    if graver:
        return Light.ALARM if waiting else Light.ACKNOWLEDGED
    if not seen.alarms:
        return Light.NORMAL
    return Light.WARNING if seen.alarms[0].state.unacknowledged else Light.ACKNOWLEDGED


class Lamp:
    """Shows the guard's last word on a port, and falls to ``LOST`` when there is none.

    ``connect`` opens the port, its lines standing as the signal says, in the lamp's thread.
    ``silent_after_s``: how old, in wall seconds, the last judgement of the guard may be.
    """

    def __init__(
        self,
        title: str,
        where: str,
        patterns: dict[Light, Pattern],
        connect: Callable[[Signal], Output],
        *,
        silent_after_s: float,
        refresh_s: float = 1.0,
    ) -> None:
        self.title = title
        self.where = where
        self._patterns = patterns
        self._connect = connect
        self._silent_after_s = silent_after_s
        self._refresh_s = refresh_s
        self._word = (Light.LOST, -math.inf)
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="lamp", daemon=True)
        self._showing: tuple[Light, float] | None = None
        self._problem: StationError | None = StationError("it is not connected yet.")
        self._told = False
        self.shown: Light | None = None
        """What was sent last; ``None`` while the port is not open."""
        self.connects = self.sent = 0
        self.recent: deque[Signal] = deque(maxlen=RECENT)

    def start(self) -> None:
        """Start showing."""
        self._thread.start()

    def close(self) -> None:
        """Show the fail-safe side and let go of the port; a port that hangs is left behind."""
        self._stop.set()
        self._wake.set()
        if self._thread.ident is not None:
            self._thread.join(STOP_WITHIN_S)
            if self._thread.is_alive():
                log.error("%s does not end: its port %s hangs", self.title, self.where)

    def tell(self, seen: GuardSnapshot, changes: tuple[Transition, ...] = ()) -> None:
        """Take note of the guard: called where it is judged, returns at once."""
        self.show(light_of(seen))

    def show(self, light: Light) -> None:
        """Take note of a light, as :meth:`tell` does; for trying the lamp without a guard."""
        before, self._word = self._word[0], (light, seconds_slept_too())
        if light is not before:
            self._wake.set()

    @property
    def light(self) -> Light:
        """Return what is to be shown now."""
        light, heard = self._word
        if self._stop.is_set() or seconds_slept_too() - heard > self._silent_after_s:
            return Light.LOST
        return light

    def health(self) -> HealthReport:
        """Return the health of its port. Nothing tells whether the lamp itself gives light."""
        problem = self._problem
        if problem is None:
            return HealthReport(Health.GOOD)
        return HealthReport(
            Health.FAILURE, problem.what, problem.advice or "It is tried again by itself."
        )

    # --- the lamp's thread -----------------------------------------------------------------------

    def _run(self) -> None:
        back_off = FIRST_BACK_OFF_S
        while not self._stop.is_set():
            before = self.sent
            try:
                self._serve(self._connect(self._signal(None)))
            except StationError as error:
                self._lose(error)
            except Exception as error:  # noqa: BLE001 - a lost port may raise anything
                self._lose(
                    StationError(
                        "its port was lost.",
                        advice="Check its cable and supply; it is tried again by itself.",
                        detail=repr(error),
                    )
                )
            back_off = FIRST_BACK_OFF_S if self.sent > before else back_off
            self._stop.wait(back_off)
            back_off = min(2 * back_off, LONGEST_BACK_OFF_S)

    def _serve(self, output: Output) -> None:
        """Show on an open port until the end, which is shown too; raises when the port is lost."""
        self.connects += 1
        last: Signal | None = None
        due = -math.inf
        try:
            while True:
                self._wake.clear()
                ending = self._stop.is_set()
                signal, now = self._signal(last), seconds_slept_too()
                if signal != last or now >= due:
                    output.send(signal)
                    if signal != last:
                        self.recent.append(signal)
                    last, due = signal, now + self._refresh_s
                    self.shown = self._showing[0] if self._showing else None
                    self.sent += 1
                    self._find()
                if ending:
                    return
                output.check()
                self._wake.wait(self._rest(now, due))
        finally:
            self._showing = self.shown = None
            try:
                output.close()
            except Exception as error:  # noqa: BLE001 - a lost port may not even close
                log.debug("closing %s: %r", self.title, error)

    def _signal(self, last: Signal | None) -> Signal:
        """Return what is to stand on the port now; a flash begins with what did not stand there."""
        light, now = self.light, seconds_slept_too()
        pattern = self._patterns[light]
        if self._showing is None or self._showing[0] is not light:
            late = HALF_FLASH_S if last == pattern.first else 0.0
            self._showing = (light, now - late)
        half = int((now - self._showing[1]) / HALF_FLASH_S) % 2
        return pattern.second if half else pattern.first

    def _rest(self, now: float, due: float) -> float:
        """Return how long nothing has to be done, s."""
        _, heard = self._word
        ends = [due - now, LOOK_S]
        if (silent := heard + self._silent_after_s - now) > 0:
            ends.append(silent + 1e-3)
        if self._showing is not None:
            light, since = self._showing
            pattern = self._patterns[light]
            if pattern.first != pattern.second:
                ends.append(HALF_FLASH_S - math.fmod(now - since, HALF_FLASH_S) + 1e-4)
        return max(0.0, min(ends))

    def _lose(self, error: StationError) -> None:
        self._problem = error
        if not self._told:
            self._told = True
            log.warning("%s is lost: %s %s", self.title, error, error.detail)

    def _find(self) -> None:
        self._problem = None
        if self._told:
            self._told = False
            log.info("%s is back", self.title)


def printable(signal: Signal) -> str:
    """Return a signal as text: the command's characters, or how the lines stand."""
    if isinstance(signal, bytes):
        return repr(signal)[2:-1]
    lines = (("RTS", signal.rts), ("DTR", signal.dtr))
    return ", ".join(f"{name} {'on' if on else 'off'}" for name, on in lines if on is not None)
