"""A person at the real window: eyes on it, hands on keyboard, mouse and the virtual bench.

Each step of the route has its function here, so that a whole unit, a story and a technician who is
killed in the middle do the same things by the same keys and clicks.
"""

from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from pytestqt.exceptions import TimeoutError as LateError

from benchstation.bench.air_locks import air_locked
from benchstation.bench.capture.weighing import Phase
from benchstation.bench.commands.capturing import EMPTIED
from benchstation.bench.gas_ticks import may_tick
from benchstation.bench.targets import oil_in_unit, present_oil_target
from benchstation.demo import shop as demo
from benchstation.demo.air_reading import air_form
from benchstation.demo.materials import KIT
from benchstation.domain.disc_stack import SIDES, specified
from benchstation.domain.push_force import push_force
from benchstation.domain.unit_commands import PASS
from benchstation.screens.bench.instruction import ACKNOWLEDGE_FIRST
from benchstation.ui.widgets.forms.choice_buttons import ChoiceButtons

TRIES = 5
LAID_ON_S = 1.0
HOLD_MS = 300
"""For how long the windows of these stories want an alarm held."""
SPECIFICATION, LOT = "mr-46-front", "L-0417"


class Hands:
    """Hands on the keyboard of a window, and patience."""

    def __init__(self, qtbot, window) -> None:
        self.qtbot, self.window = qtbot, window

    def key(self, key: str) -> None:
        combination = QKeySequence(key)[0]
        target = self.window.focusWidget() or self.window
        self.qtbot.keyClick(target, combination.key(), combination.keyboardModifiers())

    def until(self, condition, seconds: float = 20.0) -> None:
        try:
            self.qtbot.waitUntil(condition, timeout=int(seconds * 1000))
        except LateError as error:
            raise LateError(f"{error}; the window says: {getattr(self, 'told', '')}") from error


class Person(Hands):
    """Eyes on the window, hands on keyboard, mouse and the virtual bench."""

    def __init__(self, qtbot, window, station, hand) -> None:
        super().__init__(qtbot, window)
        self.station, self.hand = station, hand
        self.presses: set[tuple[str, ...]] = set()
        """What was pressed at each step, once each: a busy machine repeats some."""

    def press(self, *what: str) -> None:
        """Count a press at this step: a key, a click, or a field that is typed; not tries."""
        if not self.task.step_id.endswith(EMPTIED):
            # Asked only of a tare that came late.
            self.presses.add((self.task.step_id, *what))

    def key(self, key: str) -> None:
        # A key that did another thing until now does nothing for a second.
        bar = self.window.bench.task.action_bar
        self.until(lambda: bar.takes(key.casefold()))
        self.press("key", key)
        super().key(key)

    @property
    def task(self):
        return self.window.view.task

    def said(self, words: str) -> None:
        """Wait until the window says this."""
        self.until(lambda: words in self.told)

    @property
    def told(self) -> str:
        """What the window says: at the foot, and where a refusal stands."""
        line = self.window.status_bar.line.message
        page = self.window.made[self.window.page]
        return f"{line.text if line is not None else ''} {self.refused} {page.refusal}"

    @property
    def refused(self) -> str:
        """What stands above the actions and at the fields: why not, or what was refused."""
        task = self.window.bench.task
        errors = [row.error.text() for row in task.form.rows]
        return " ".join(part for part in (task.reason.text, *errors) if part)

    @property
    def session(self):
        return self.station.live.session

    def until_step(self, step_id: str, seconds: float = 20.0) -> None:
        def there() -> None:
            assert self.task.step_id == step_id, self.window.view.said

        self.until(there, seconds)

    @property
    def rows(self):
        """The rows of the step's form, when the page shows that step."""
        self.until(lambda: self.window.bench._step == self.task.step_id)
        return self.window.bench.task.form.rows

    def fill(self, **values: str) -> None:
        """Type into text fields, click checks, choose from choices with the arrow keys."""
        for row in self.rows:
            if row.field.id not in values:
                continue
            editor, value = row.editor, values[row.field.id]
            kind = row.field.kind.value
            self.press("field", row.field.id)
            last = row is self.rows[-1] and kind != "choice"
            if kind != "check" and not isinstance(editor, ChoiceButtons) and not last:
                # Typing, and the way to the next field: from the last one that signs. A list is
                # opened first.
                self.press("field", row.field.id, "left")
            if kind == "check":
                if not editor.isChecked():
                    self.qtbot.mouseClick(editor, Qt.MouseButton.LeftButton)
            elif kind == "choice":
                wanted = editor.findData(value)
                assert wanted >= 0, f"{value} is not offered"
                editor.setFocus()
                self.qtbot.keyClick(editor, Qt.Key.Key_Home)
                while editor.currentIndex() < wanted:
                    self.qtbot.keyClick(editor, Qt.Key.Key_Down)
            else:
                editor.setFocus()
                editor.clear()
                self.qtbot.keyClicks(editor, value)

    def click(self, action_id: str) -> None:
        """Press a button of the task with the mouse."""
        actions = self.window.bench.task.action_bar
        # The same action is not begun twice; a hand is never as quick as the last one's answer.
        under_way = self.window.bench._under_way
        self.until(lambda: all(action != action_id for _, action in under_way))

        def place() -> int | None:
            """Return where it stands, once a click there is meant for it."""
            for at, button in enumerate(actions.buttons):
                if button.isVisible() and button.isEnabled() and button.action.id == action_id:
                    return at if actions.takes(at) else None
            return None

        self.until(lambda: place() is not None)
        self.press("click", action_id)
        self.qtbot.mouseClick(actions.buttons[place()], Qt.MouseButton.LeftButton)

    def give_reason(self, reason: str) -> None:
        """Type the reason that an action asked for, and send it."""
        self.answer(self.window.bench.task.action_bar.question, reason)

    def answer(self, question, reason: str = "", pin: str = demo.PIN) -> None:
        """Type what a question wants: a reason, the PIN that signs, or both."""
        typed = ((question.reason, reason), (question.pin, pin))
        for field, text in typed:
            if field.isVisible():
                self.qtbot.keyClicks(field, text)
                self.qtbot.keyClick(field, Qt.Key.Key_Return)

    def can(self, action_id: str) -> bool:
        """Say whether an action is offered and enabled."""
        return any(a.id == action_id and a.enabled for a in self.task.actions)

    def weighs(self, phase: Phase) -> bool:
        weighing = self.session.work.weighing
        return weighing is not None and weighing.phase is phase

    def confirm_all(self, **values: str) -> None:
        checks = {row.field.id: "yes" for row in self.rows if row.field.kind.value == "check"}
        self.fill(**checks, **values)
        self.click("sign")


# --- one step each -------------------------------------------------------------------------------


def sign_in(person: Person, who: str = "kofler") -> None:
    person.until_step("sign-in")
    person.fill(person=who, pin=demo.PIN)
    person.key("Return")
    person.until(lambda: person.task.step_id != "sign-in")


def change_person(person: Person, who: str) -> None:
    person.key("Ctrl+L")
    sign_in(person, who)


def open_unit(person: Person, serial: str) -> None:
    person.until_step("open")
    person.fill(serial=serial, specification=SPECIFICATION, lot=LOT)
    person.click("open")
    person.until_step("intake")


def start_unit(person: Person, serial: str = "E2E-1") -> None:
    sign_in(person)
    open_unit(person, serial)
    focused = person.window.focusWidget()
    assert person.window.bench.task.isAncestorOf(focused), "the keyboard goes to the new form"


def intake(person: Person) -> None:
    person.confirm_all(note1="weeping at wiper")
    person.until_step("release")


def release(person: Person) -> None:
    person.press("virtual hand", "vent")
    person.hand.set_vent(0.6)
    # Gas that expanded is cold; vented only just into the band it would rise out of it again.
    gauge = person.session.gauge.instrument
    person.until(lambda: gauge.latest().value < 1000.0)
    person.until(lambda: person.task.lines[0][0].startswith("within"))
    person.hand.set_vent(0.0)
    person.confirm_all()
    person.until_step("strip")


def strip(person: Person) -> None:
    person.confirm_all(material1=KIT)
    person.until_step("rod")


def rod(person: Person) -> None:
    person.confirm_all(choice1="bright")
    person.until_step("stack_found")


def _stacks_as_specified(person: Person) -> None:
    """Start both stacks from the specification, by the key on that button."""
    for row in person.rows:
        row.editor.setFocus()
        person.press("field", row.field.id)
        starts = [label for _, label in row.field.choices]
        person.key(f"Ctrl+{starts.index('as specified') + 1}")
    person.click("sign")


def stack_found(person: Person) -> None:
    """Measure every disc and type it: nothing can be taken over here."""
    stacks = person.session.unit().specification.stacks
    for row, side in zip(person.rows, SIDES, strict=True):
        assert row.field.choices == ()
        row.editor.setFocus()
        discs = (
            f"{disc.outer_m * 1e3:g} x {disc.thickness_m * 1e3:g} x {disc.count}"
            for disc in specified(stacks, side)
        )
        person.press("field", row.field.id)
        person.press("field", row.field.id, "left")
        person.qtbot.keyClicks(person.window.focusWidget(), "; ".join(discs))
        person.key("Return")
    person.click("sign")
    person.until_step("parts")


def parts(person: Person) -> None:
    person.confirm_all(lot1=f"{KIT}-RS-14", lot2=f"{KIT}-WP-14", lot3=f"{KIT}-FP-46")
    person.until_step("stack_built")


def stack_built(person: Person) -> None:
    _stacks_as_specified(person)
    person.until_step("piston")


def piston(person: Person) -> None:
    person.confirm_all(value1="209,6 mm")
    person.until_step("oil")


def to_weighing(person: Person) -> None:
    for step in (intake, release, strip, rod, stack_found, parts, stack_built, piston):
        step(person)
    assert person.window.focusWidget() is person.window, "no button waits for the space bar"


def confirm_undone(person: Person) -> None:
    """Tick that what was not weighed is undone, and tare with that."""
    person.until(lambda: person.task.step_id.endswith(f"-{EMPTIED}"))
    person.fill(**{row.field.id: "yes" for row in person.rows})
    person.key("Return")


def tare(person: Person, what: str) -> None:
    person.press("virtual hand", "pan")
    person.hand.put_on_pan(what)
    scale, since = person.session.scale.instrument, person.session.clock.seconds()
    person.until(lambda: (scale.latest().at if scale.latest() else 0.0) > since + LAID_ON_S)
    person.until(lambda: person.can("tare"))
    for _ in range(TRIES):
        person.key("T")
        person.until(
            lambda: person.session.work.open_form == EMPTIED or not person.weighs(Phase.NEED_TARE)
        )
        if person.session.work.open_form == EMPTIED:
            confirm_undone(person)
        person.until(lambda: not person.weighs(Phase.NEED_TARE))
        person.until(lambda: not person.weighs(Phase.TARING))
        if person.weighs(Phase.POURING):
            break
    person.until(lambda: person.task.big.caption != "on the scale")


def pour(person: Person, over_kg: float = 0.0) -> None:
    """Pour to the goal, or past it by so much."""
    person.press("virtual hand", "pour")
    session = person.session
    goal = present_oil_target(session).pour_shown_kg + over_kg
    while (left := goal - session.scale.instrument.latest().value) > 0.0008:
        # Slowly at the end: on a busy machine the hand lags behind the quick bench time.
        person.hand.set_pour(min(1.0, 0.02 + left / 0.4))
        person.qtbot.wait(5)
    person.hand.set_pour(0.0)


def scan_can(person: Person) -> None:
    person.key("C")
    person.until(lambda: person.task.step_id.endswith("-can"))
    person.fill(lot=person.session.unit().oil_lot)
    person.key("Return")
    person.until(lambda: person.task.step_id == "oil")


def oil(person: Person) -> None:
    unit = person.session.unit()
    if unit.oil_lot not in unit.lots_confirmed:
        scan_can(person)
    tare(person, "body")
    pour(person)
    person.key("Space")
    person.until_step("bleed")


def bleed(person: Person, left_kg: float = 0.0) -> None:
    """Let the surplus off, but for what is left in."""
    tare(person, "tray")
    session = person.session
    poured_kg = session.unit().capture("pour").event.shown_kg
    surplus_kg = poured_kg - present_oil_target(session).net_shown_kg - left_kg
    person.press("virtual hand", "bleed")
    for _ in range(round(surplus_kg / 5e-4)):
        person.hand.bleed()
    person.until(lambda: session.scale.instrument.latest().value > surplus_kg - 6e-4)
    person.key("Space")
    person.until_step("screw")
    person.hand.put_on_pan("nothing")


def screw(person: Person) -> None:
    person.confirm_all(torque1="8.1", torque1_tool="TW-07")
    person.until_step("charge")


def to_charge(person: Person) -> None:
    to_weighing(person)
    oil(person)
    bleed(person)
    screw(person)


def fill_gas(person: Person, aim_pa: float) -> None:
    person.press("virtual hand", "fill")
    gauge = person.session.gauge.instrument
    person.hand.set_regulator(aim_pa + 8e5)
    person.hand.set_valve(1.0)
    person.until(lambda: gauge.latest().value > aim_pa)
    person.hand.set_valve(0.0)


def acknowledge(person: Person) -> None:
    """Hold the key until no alarm waits for it; of a signal that is back no reason is asked."""

    def waiting() -> bool:
        return any(alarm.hold_label for alarm in person.window.view.alarms)

    for _ in range(TRIES):
        if not waiting():
            return
        person.qtbot.keyPress(person.window, Qt.Key.Key_F12)
        person.qtbot.wait(2 * HOLD_MS)
        person.qtbot.keyRelease(person.window, Qt.Key.Key_F12)
        person.qtbot.wait(200)
    person.until(lambda: not waiting())


def bring_inside(person: Person) -> None:
    """Do what the screen says until it says that it is in the window."""
    session = person.session
    gauge, target = session.gauge.instrument, session.work.charge_target.target_gauge_pa
    # Who cannot measure the unit brings the charge nearer to the middle instead.
    said = ("in the window: capture", "too low", "too high", "measure the unit", ACKNOWLEDGE_FIRST)
    fits = []

    def reached(aim: float, sign: int) -> bool:
        return sign * (gauge.latest().value - aim) >= 0

    def look() -> str:
        """Look at the fit in the bench's thread, where its readings come."""
        fits[:] = [session.work.charging.settling(session.clock.seconds())]
        return ""

    def told() -> None:
        lines = [text for text, _ in person.task.lines]
        person.station.ask(look).result(5)
        assert any(t.startswith("will settle at") for t in lines), (lines, person.window.view.said)
        assert fits[0] is not None
        assert lines[0].startswith(said), lines

    for _ in range(16):
        # What is known of the air is the less sure the older it is, and so the window narrower.
        read_air(person)
        person.until(told, 30)
        word = person.task.lines[0][0]
        if word == ACKNOWLEDGE_FIRST:
            acknowledge(person)
            continue
        off = fits[0].final_pa - target
        aim = gauge.latest().value - off
        if word.startswith(said[0]):
            return
        if off < 0:
            person.hand.set_valve(0.2)
            person.until(partial(reached, aim, 1))
        else:
            person.hand.set_vent(0.06)
            person.until(partial(reached, aim, -1))
        person.hand.set_valve(0.0)
        person.hand.set_vent(0.0)
    raise AssertionError("the charge cannot be brought inside")


def capture_charge(person: Person) -> None:
    session, before = person.session, len(person.session.unit().attempts)

    def captured() -> bool:
        return len(session.unit().attempts) > before

    def over() -> bool:
        return captured() or bool(air_locked(session, session.unit(), session.unit().current))

    while not captured():
        # What was read of the air may grow old while a slow machine waits for the gas to settle.
        read_air(person)
        person.until(lambda: captured() or person.can("capture"))
        if not captured() and not session.work.charge_wanted:
            person.key("Space")
        person.until(over, 40)
    person.until(lambda: person.can("hold"))


def capture_inside(person: Person) -> None:
    """Capture in the window; one that comes out undecided is brought further in, and taken anew."""
    for _ in range(TRIES):
        bring_inside(person)
        capture_charge(person)
        if person.session.unit().charge.decision == PASS:
            break


def hold(person: Person) -> None:
    """Hold until it passes: on a busy machine one may come out undecided, and is run again."""
    for _ in range(TRIES):
        read_air(person)
        person.click("hold")
        person.until(lambda: person.session.work.hold_wanted)
        person.until(lambda: not person.session.work.hold_wanted, 40)
        person.qtbot.wait(100)
        if person.task.step_id != "charge":
            break
    person.until_step("seal")


def read_air(person: Person) -> None:
    """Type what the wall shows, and since when the unit is here, by the step's own key.

    The time of these stories is quick: what was read is soon too old.
    """
    unit = person.session.unit()
    if unit.in_room is not None and not air_locked(person.session, unit, unit.current):
        return
    person.until(lambda: person.can("ask_air"))
    person.key("A")
    person.until_step("charge-air")
    person.fill(**air_form(demo.AIR.temperature_k, demo.AIR.pressure_pa), since="16 h")
    person.key("Return")
    person.until_step("charge")


def charge(person: Person) -> None:
    """Fill, bring it inside, capture, hold; go on with whatever of it is there already."""
    session = person.session
    read_air(person)
    target = session.work.charge_target.target_gauge_pa
    captured = session.unit().charge
    if captured is None or captured.decision != PASS:
        person.until(lambda: session.gauge.good_value(session.clock.seconds()) is not None)
        if session.gauge.instrument.latest().value < 0.6 * target:
            fill_gas(person, 1.16 * target)
        capture_inside(person)
    hold(person)


def seal(person: Person) -> None:
    gauge = person.session.gauge.instrument
    # What is said of the screw is said while the pressure stands, and goes with a restart.
    stood = may_tick(person.session, "confirm1")
    if gauge.latest().value > 1e5 and stood:
        person.fill(confirm1="yes")
        person.until(lambda: "confirm1" in person.session.work.ticks)
    person.press("virtual hand", "vent")
    person.hand.set_vent(0.3)
    person.until(lambda: person.can("sign") and gauge.latest().value < 2e3)
    person.hand.set_vent(0.0)
    person.confirm_all()
    person.until(lambda: person.task.step_id == "function" or "not seen to fall" in person.told)
    if person.task.step_id != "function":
        # Somebody was stopped in the middle of the venting: nobody saw the charge fall.
        change_person(person, demo.LEAD)
        person.fill(**{row.field.id: "yes" for row in person.rows})
        person.click("deviation")
        person.give_reason("stopped while the line was vented")
    person.until_step("function")


def function(person: Person) -> None:
    person.confirm_all()
    person.until_step("push")


def push(person: Person) -> None:
    session = person.session
    expected = push_force(session.unit(), oil_in_unit(session), session.around_unit(session.unit()))
    person.confirm_all(value1=f"{expected.force_n:.0f} N")
    person.until_step("file")


def file(person: Person) -> None:
    person.key("Return")
    person.until_step("filed")


def after_filing(person: Person) -> None:
    person.key("Return")
    person.until_step("open")


ROUTE = {
    step.__name__: step
    for step in (
        intake,
        release,
        strip,
        rod,
        stack_found,
        parts,
        stack_built,
        piston,
        oil,
        bleed,
        screw,
        charge,
        seal,
        function,
        push,
        file,
    )
}
"""By the id of the step."""
