"""The screens on which an instrument is brought in, one for each stage."""

import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from benchstation.bench.onboarding.instrument import BESIDE, Adding, New, Stage, State
from benchstation.devices import adding as devices
from benchstation.devices.discovery import GOOD_SHARE
from benchstation.devices.instrument import Instrument
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.driver_api.reading import Health
from benchstation.metrology.check_weights import CLASSES
from benchstation.quantities.formatter import QuantityFormatter, day_of
from benchstation.quantities.notation import NO_VALUE, fixed, percent
from benchstation.screens.bench.instrument_bar import shown_of
from benchstation.screens.instruments.building import BUILD, build_view
from benchstation.screens.instruments.calibration_words import Figures, in_force_group
from benchstation.screens.instruments.certificate_fields import certificate_fields
from benchstation.screens.instruments.role_words import (
    CAUSES,
    NOMINAL,
    ONE_POINT,
    PROVE,
    as_fine_as,
    decimals_of,
)
from benchstation.screens.model.elements import (
    ActionView,
    BigNumber,
    FieldKind,
    FieldView,
    StepState,
    StepView,
    TermGroup,
    TermView,
    Tone,
)
from benchstation.screens.model.onboarding import AddingView, ChoiceRow

TITLES = {
    Stage.PORT: "Port",
    Stage.LISTEN: "Listen",
    Stage.MATCH: "Match",
    Stage.PROVE: "Prove",
    Stage.NAME: "Name",
    Stage.CERTIFICATE: "Certificate",
    Stage.SAVE: "Save",
}
LEAVE = ActionView("leave", "Cancel, change nothing", "Esc")
BACK = ActionView("back", "Back", "Alt+Left")
STOP = ActionView("stop", "Stop", "Ctrl+S")
CONSENT = FieldView(
    "consent",
    "Only this instrument is on the port: it may be spoken to, and its line changed",
    FieldKind.CHECK,
    hint="Unknown requests can move a machine. Look where the cable goes before you tick this.",
)
LOCKED = "Without a calibration in force nothing can be captured with it but under a deviation."


@dataclass(frozen=True, slots=True)
class AddingScreens:
    """Answers the window while an instrument is brought in."""

    steps: Adding

    def adding(self) -> AddingView | None:
        """Return the present moment; ``None`` when nothing is being brought in."""
        return adding_view(self.steps)

    def adding_act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action of the present screen."""
        return self.steps.adding_act(action, fields)


def adding_view(adding: Adding) -> AddingView | None:
    """Return the screen of the present stage; ``None`` when nothing is being brought in."""
    state = adding.state
    if state is None:
        return None
    view = _SCREENS[state.stage](adding, state)
    return replace(view, step_id=f"adding-{state.stage}", steps=_steps(state))


def _steps(state: State) -> tuple[StepView, ...]:
    order = list(TITLES)
    now = order.index(Stage.MATCH if state.stage is Stage.BUILD else state.stage)
    evidence = _evidence(state)
    return tuple(
        StepView(
            stage.value,
            TITLES[stage],
            StepState.DONE if n < now else StepState.NOW if n == now else StepState.WAITING,
            evidence.get(stage, "") if n < now else "",
            False,
        )
        for n, stage in enumerate(order)
    )


def _evidence(state: State) -> dict[Stage, str]:
    found = {Stage.PORT: state.url}
    if state.heard is not None:
        found[Stage.LISTEN] = f"{state.heard.count} bytes"
    if state.profile is not None:
        found[Stage.MATCH] = state.profile.title
    if state.checked is not None:
        found[Stage.PROVE] = "passed" if state.checked.passed else "check failed"
    if state.typed:
        found[Stage.NAME] = state.typed.get("title", "")
    return found


def _wanted(adding: Adding) -> str:
    role = adding.wanted_role
    if role is None:
        return "the instrument"
    return "the gauge" if role is InstrumentRole.GAUGE else f"the {role}"


# --- port, listen, match -------------------------------------------------------------------------


def _port(adding: Adding, state: State) -> AddingView:
    rows = tuple(
        ChoiceRow(
            port.stable_url,
            port.description or port.name,
            port.stable_url if port.stable_url == port.name else f"{port.name}   {port.stable_url}",
            f"in use: {state.used[port.stable_url]}" if state.used.get(port.stable_url) else "free",
            Tone.CAUTION if state.used.get(port.stable_url) else Tone.NORMAL,
        )
        for port in state.ports
    )
    lines: tuple[tuple[str, Tone], ...] = ()
    if not rows:
        lines = (("No serial port is plugged in. Plug it in and look again.", Tone.CAUTION),)
    return AddingView(
        "",
        f"Where is {_wanted(adding)} plugged in?",
        "Choose its port. What stays the same of it is kept: its USB identity and serial number, "
        "or a path. A port in use is not read while it is listened to here.",
        rows_name="ports",
        rows=rows,
        row=next((row.key for row in rows if row.tone is Tone.NORMAL), ""),
        lines=lines,
        fields=(
            FieldView(
                "address",
                "or an address, instead of a port of the list",
                FieldKind.TEXT,
                hint="socket://HOST:PORT, rfc2217://HOST:PORT, or a path",
            ),
        ),
        actions=(
            ActionView("listen", "Listen; nothing is sent", "Return", primary=True),
            ActionView("look", "Look for ports again", "Ctrl+R"),
            LEAVE,
        ),
    )


def _listen(adding: Adding, state: State) -> AddingView:
    heard = state.heard
    raw = tuple(devices.last_lines(adding.tail))
    if state.busy:
        return AddingView(
            "",
            "Listening",
            f"{state.url}: {state.busy}",
            raw_lines=raw or ("no byte yet",),
            actions=(STOP, LEAVE),
            busy=True,
        )
    came = heard.count if heard else 0
    lines = [(devices.nothing_words(heard, asked=state.asked), Tone.CAUTION)]
    if heard is not None and heard.beyond:
        advice = devices.OTHER_RANGE
    elif came:
        advice = "Its line may be set otherwise, or no profile knows it: make one on these bytes."
    else:
        advice = "It may wait for a request, its line may be cut, or it may send only on a key."
    lines.append((advice, Tone.PLAIN))
    serial = devices.has_line_settings(state.url)
    others = ActionView(
        "others",
        "Other settings",
        "Ctrl+T",
        serial,
        "" if serial else "an address has none",
    )
    return AddingView(
        "",
        "Nobody reads it yet",
        state.url,
        lines=tuple(lines),
        raw_lines=raw or ("no byte came",),
        fields=(CONSENT,),
        actions=(
            ActionView("again", "Listen again", "Return", primary=True),
            ActionView("ask", "Ask it", "Ctrl+E"),
            others,
            *((BUILD,) if came and not state.asked else ()),
            BACK,
            LEAVE,
        ),
    )


def _match(adding: Adding, state: State) -> AddingView:
    matches = state.heard.matches if state.heard else ()
    settings = devices.line_words(state.heard.settings) if state.heard else ""
    heard_at = f", heard at {settings}" if devices.has_line_settings(state.url) else ""
    rows = tuple(
        ChoiceRow(
            match.profile.id,
            match.profile.title,
            f"{percent(match.share)} of the bytes, {match.readings} readings{heard_at}",
            devices.reading_words(match.last) if match.last else "overload or error",
            Tone.NORMAL if match.share >= GOOD_SHARE else Tone.CAUTION,
        )
        for match in matches
    )
    return AddingView(
        "",
        "Which reading does the instrument show?",
        "Every profile that reads these bytes, best first. Compare with the instrument's display.",
        rows_name="profiles that read it",
        rows=rows,
        row=rows[0].key if rows else "",
        raw_lines=tuple(devices.last_lines(adding.tail)),
        actions=(
            ActionView("match", "Read it live", "Return", primary=True),
            ActionView("again", "Listen again", "Ctrl+R"),
            BUILD,
            BACK,
            LEAVE,
        ),
    )


# --- prove ---------------------------------------------------------------------------------------


def _prove(adding: Adding, state: State) -> AddingView:
    words, instrument = QuantityFormatter(adding.display), adding.instrument
    lines: list[tuple[str, Tone]] = []
    if state.checked is not None and not state.checked.passed:
        lines.append((_off(words, state), Tone.DANGER))
        lines.append(
            (f"{CAUSES[state.role]}; try another profile; or have it adjusted.", Tone.PLAIN)
        )
    lines += _health(instrument)
    if state.role in ONE_POINT:
        lines.append((ONE_POINT[state.role], Tone.MANDATORY))
    fields: tuple[FieldView, ...] = ()
    if state.role in NOMINAL:
        label, hint = NOMINAL[state.role]
        fields = (FieldView("nominal", label, FieldKind.QUANTITY, hint=hint),)
    if state.role is InstrumentRole.SCALE:
        fields = _weight_fields(state, fields, words)
    # The bytes were seen at the match; the particulars of a check weight need their room.
    raw = () if state.role is InstrumentRole.SCALE else tuple(devices.last_lines(adding.tail))
    checked = state.checked is not None
    return AddingView(
        "",
        "Does it show what it must?",
        PROVE[state.role],
        big=_big(words, instrument, state.role),
        lines=tuple(lines),
        raw_lines=raw,
        fields=fields,
        actions=(
            ActionView("check", "Check", "Return", primary=True),
            ActionView(
                "go_on",
                "Continue, failed",
                "Ctrl+G",
                checked,
                "" if checked else "check it first",
            ),
            BACK,
            LEAVE,
        ),
    )


def _weight_fields(
    state: State, nominal: tuple[FieldView, ...], words: QuantityFormatter
) -> tuple[FieldView, ...]:
    """Return the choice of the check weights on record, and what describes another one."""
    known = tuple(
        (w.lot, f"{w.lot}, {words.mass(w.nominal_kg or 0.0)}, class {w.weight_class}")
        for w in state.weights
    )
    chosen = known[0][0] if len(known) == 1 else ""
    hint = "or type below what is not on record yet"
    choice = FieldView("weight", "Check weight", FieldKind.CHOICE, chosen, hint, choices=known)
    classes = tuple((name, name) for name in CLASSES)
    return (
        *((choice,) if known else ()),
        FieldView("lot", "Id of the weight", FieldKind.TEXT),
        *nominal,
        FieldView("weight_class", "Its class", FieldKind.CHOICE, choices=classes),
        FieldView("certificate", "Its certificate", FieldKind.TEXT),
        FieldView("until", "Calibrated until", FieldKind.TEXT, hint="such as 2027-01-31"),
    )


def _off(words: QuantityFormatter, state: State) -> str:
    checked = state.checked
    assert checked is not None
    shown, allowed = as_fine_as(words, state.role, checked)
    return f"It shows {shown(checked.observed)} and must show {shown(checked.nominal)} ± {allowed}."


def _health(instrument: Instrument | None) -> list[tuple[str, Tone]]:
    if instrument is None:
        return []
    report = instrument.health(time.perf_counter())
    if report.category is Health.GOOD:
        rate = instrument.statistics.rate_hz
        return [
            (f"live, {fixed(rate, 1)} readings a second" if rate == rate else "live", Tone.NORMAL)
        ]
    return [(f"{report.reason}. {report.advice}", Tone.CAUTION)]


def _big(
    words: QuantityFormatter, instrument: Instrument | None, role: InstrumentRole
) -> BigNumber:
    sample = instrument.latest() if instrument else None
    value = sample.value if sample else float("nan")
    decimals = decimals_of(words, sample.resolution if sample else None, role)
    shown = shown_of(role, value, words, decimals)
    good = instrument is not None and instrument.health(time.perf_counter()).category is Health.GOOD
    moving = sample is not None and sample.stable is False
    caption = "shows now, moving" if moving else "shows now"
    number = shown.number if sample else NO_VALUE
    return BigNumber(caption, number, shown.unit, Tone.PLAIN, stale=not good)


# --- name, save ----------------------------------------------------------------------------------


def _name(adding: Adding, state: State) -> AddingView:
    def text(name: str, label: str, hint: str = "", value: str = "") -> FieldView:
        return FieldView(name, label, FieldKind.TEXT, state.typed.get(name, value), hint)

    return AddingView(
        "",
        "What is it called?",
        "What people call it, and what stands on its plate.",
        fields=(
            *_places(state),
            text("title", "What people call it"),
            text("id", "Its name in the records"),
            text("serial", "Serial number on its plate"),
        ),
        actions=(ActionView("name", "Continue", "Return", primary=True), BACK, LEAVE),
    )


def _certificate(adding: Adding, state: State) -> AddingView:
    return AddingView(
        "",
        "Is it calibrated?",
        "From its certificate: the points up and down, or gain, offset and uncertainty.",
        lines=((LOCKED, Tone.CAUTION),),
        fields=certificate_fields(state.role, QuantityFormatter(adding.display), state.typed),
        actions=(
            ActionView("certificate", "Review", "Return", primary=True),
            ActionView("none_yet", "No certificate yet", "Ctrl+G"),
            BACK,
            LEAVE,
        ),
    )


def _places(state: State) -> tuple[FieldView, ...]:
    """Return the questions that come up where the bench has one of this role already."""
    if not state.places.fitted:
        return ()
    beside = (BESIDE, f"of no other: one more {state.role} beside")
    return (
        FieldView(
            "place",
            "It takes the place",
            FieldKind.CHOICE,
            state.typed.get("place", ""),
            choices=(*((name, f"of {title}") for name, title in state.places.fitted), beside),
        ),
        FieldView(
            "use",
            "What it is for, beside another",
            FieldKind.TEXT,
            state.typed.get("use", ""),
            "such as heavy units",
        ),
    )


def _save(adding: Adding, state: State) -> AddingView:
    new = state.new
    assert new is not None
    kept = new.registered
    lines: list[tuple[str, Tone]] = []
    if not new.checked.passed:
        lines.append(("The check failed: nothing is captured until one passes.", Tone.DANGER))
    lines += calibration_lines(new)
    first = bool(adding.wanted_role)
    others = {name for name, _ in state.places.fitted} - {new.instead_of}
    article = "a" if others else "the"
    if new.instead_of:
        old = dict(state.places.fitted).get(new.instead_of, new.instead_of)
        lines.append((f"{old} leaves the bench and stays on record.", Tone.PLAIN))
    elif not first and state.places.fitted:
        lines.append((f"It stands beside the other {state.role}.", Tone.PLAIN))
    if not first and state.role is InstrumentRole.GAUGE and not new.instead_of:
        lines.append(("The guard judges it too: it counts as in the pressure path.", Tone.CAUTION))
    return AddingView(
        "",
        f"{'Take' if first else 'Save'} it as {article} {kept.role} of this bench?",
        "Nothing is written before the last screen." if first else "Nothing has been kept so far.",
        lines=tuple(lines),
        groups=new_groups(QuantityFormatter(adding.display), new),
        actions=(
            ActionView("save", "Take it" if first else "Save and read it", "Return", primary=True),
            BACK,
            LEAVE,
        ),
    )


def new_groups(words: QuantityFormatter, new: New) -> tuple[TermGroup, ...]:
    """Return what will be kept."""
    kept, checked, profile = new.registered, new.checked, new.profile
    role = InstrumentRole(kept.role)
    fine, allowed = as_fine_as(words, role, checked)
    line = devices.line_words(profile.line_settings)
    on_line = line if devices.has_line_settings(new.settings.url) else "a network address"
    instrument = TermGroup(
        "Instrument",
        (
            TermView("Called", kept.title, strong=True),
            TermView("In the records", kept.instrument_id),
            TermView("Serial number", kept.serial_number or "-"),
            TermView("Port", new.settings.url, on_line),
            TermView("Profile", profile.title, profile.id),
        ),
    )
    proof = TermGroup(
        "Proof",
        (
            TermView(
                checked.check.capitalize(),
                "passed" if checked.passed else "FAILED",
                f"{fine(checked.observed)} for {fine(checked.nominal)}, allowed ± {allowed}",
            ),
        ),
    )
    calibration = in_force_group("Calibration", kept, Figures(role, words), _today())
    return instrument, proof, calibration


def calibration_lines(new: New) -> list[tuple[str, Tone]]:
    """Return what must be said of a calibration before the instrument is saved."""
    until = new.registered.calibrated_until
    if not until:
        return [(LOCKED, Tone.CAUTION)]
    if date.fromisoformat(until) < _today():
        return [(f"Its certificate expired on {until}. {LOCKED}", Tone.DANGER)]
    return []


def _today() -> date:
    return day_of(datetime.now(UTC))


_SCREENS: dict[Stage, Callable[[Adding, State], AddingView]] = {
    Stage.PORT: _port,
    Stage.LISTEN: _listen,
    Stage.MATCH: _match,
    Stage.BUILD: build_view,
    Stage.PROVE: _prove,
    Stage.NAME: _name,
    Stage.CERTIFICATE: _certificate,
    Stage.SAVE: _save,
}
