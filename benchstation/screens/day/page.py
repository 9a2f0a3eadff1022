"""The start of the day: what is still to be seen to, each line done here or put off."""

from benchstation.bench.day_start import (
    AIR_LINES,
    BACKUP,
    BOTTLE,
    CALIBRATIONS,
    DayLine,
    LineState,
    due_soon,
)
from benchstation.bench.session import BenchSession, barred
from benchstation.domain.events import DayLineSigned
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.screens.bench.air_form import air_fields, conditions_group
from benchstation.screens.instruments.page import check_actions, check_fields
from benchstation.screens.model.elements import (
    ActionView,
    FieldKind,
    FieldView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
    permitted,
)
from benchstation.screens.model.lists import ListDetail, ListRow

TITLES = {
    "air": "Air temperature",
    "barometer": "Barometer",
    CALIBRATIONS: "Calibrations",
    BOTTLE: "Nitrogen bottle",
    BACKUP: "Copy of the records",
}
SAYS = {
    "air": "What the charge's target rests on: read a thermometer at the bench.",
    "barometer": "Absolute, read at this place; a weather report's is for sea level.",
    CALIBRATIONS: "What falls due within 30 days: order it now.",
    BOTTLE: "What its gauge shows: is it enough for today, and is it secured?",
    BACKUP: "Where the records were last copied to, and when.",
}
_SIGN_LABEL = {CALIBRATIONS: "Seen", BOTTLE: "Enough for today", BACKUP: "It is copied"}
_STATE_TONE = {
    LineState.DONE: Tone.NORMAL,
    LineState.OPEN: Tone.CAUTION,
    LineState.PUT_OFF: Tone.QUIET,
}
SIGN, PUT_OFF = "sign_day_line", "put_off"
CHECK_KEYS = {"check": "Ctrl+K", "prove_empty": "Ctrl+E", "zero": "Ctrl+O"}


def day_open(session: BenchSession) -> int:
    """Return how many lines are open, where the bench asks for them and no unit is on it."""
    asked = session.settings.now.start_of_day and session.person is not None
    if not asked or session.rebuild is not None:
        return 0
    return sum(line.state is LineState.OPEN for line in session.day_lines())


def day_rows(session: BenchSession) -> list[ListRow]:
    """Return the lines of today."""
    return [_row(session, line) for line in session.day_lines()]


def open_day_line(session: BenchSession, key: str) -> ListDetail:
    """Open one line with what is known, and what whoever is signed in may do about it."""
    line = next((line for line in session.day_lines() if line.key == key), None)
    if line is None:
        raise StationError("there is no such line today.", where="Start of the day")
    forms: dict[str, TaskView] = {}
    actions: list[ActionView] = []
    if line.instrument is not None:
        actions, forms = _checks(session, line)
    elif key in AIR_LINES:
        actions, forms = _figure(session, key)
    elif line.state is not LineState.DONE or line.signed is not None:
        actions = [ActionView(SIGN, _SIGN_LABEL[key], "Ctrl+E", primary=True)]
        forms[SIGN] = _sign_form(key, session.words)
    if line.state is not LineState.DONE:
        actions.append(ActionView(PUT_OFF, "Put off for today", "Ctrl+P", needs_reason=True))
    fields = {"line": key}
    if line.instrument is not None:
        fields["instrument"] = line.instrument.id
    return ListDetail(
        _row(session, line),
        tuple(_groups(session, line)),
        permitted(tuple(actions), barred(session.commands, session.person), by_id=True),
        forms if session.person is not None else {},
        fields,
    )


def _row(session: BenchSession, line: DayLine) -> ListRow:
    fitted = line.instrument
    title = TITLES.get(line.key) or f"Check: {fitted.registered.title if fitted else line.key}"
    below = SAYS.get(line.key, "")
    if fitted is not None:
        scale = fitted.role is InstrumentRole.SCALE
        below = "Empty pan, then its check weight." if scale else "Zero, the line open to the air."
    note = ""
    if line.signed is not None and isinstance(line.signed.event, DayLineSigned):
        note = _signed_words(session, line)
    return ListRow(line.key, title, (below,), line.state.value, _STATE_TONE[line.state], note=note)


def _signed_words(session: BenchSession, line: DayLine) -> str:
    assert line.signed is not None
    event = line.signed.event
    assert isinstance(event, DayLineSigned)
    person = session.shop.people.get(line.signed.person)
    shown = "" if event.value is None else session.words.gauge(event.value)
    said = ", ".join(text for text in (shown, event.note) if text)
    return f"{said} ({person.name if person else line.signed.person})"


def _groups(session: BenchSession, line: DayLine) -> list[TermGroup]:
    words, now = session.words, session.moment()
    groups = []
    if line.key in AIR_LINES:
        known = session.known_air.evidence(AIR_LINES[line.key], session.instruments, now)
        why = known.why_not(now.utc, session.known_air.limits)
        condition = known.condition(now.utc, session.known_air.limits)
        groups.append(conditions_group(session, [condition], words))
        if why:
            groups.append(TermGroup("Why it does not count", (TermView(why, ""),)))
    if line.instrument is not None:
        checked, on = line.instrument.checked, line.instrument.checked_on
        said = "none" if checked is None else "passed" if checked.passed else "FAILED"
        term = TermView("Newest check", said, str(on or ""))
        groups.append(TermGroup("On record", (term,)))
    if line.key == CALIBRATIONS:
        terms = [
            TermView(one.registered.title, one.registered.calibrated_until or "not on record")
            for one in due_soon(session.instruments, now)
        ]
        none = TermView("None falls due within 30 days", "")
        groups.append(TermGroup("Calibrated until", tuple(terms) or (none,)))
    if line.signed is not None:
        term = TermView(local_time(line.signed.utc), _signed_words(session, line))
        groups.append(TermGroup("Signed today", (term,)))
    return groups


def _checks(session: BenchSession, line: DayLine) -> tuple[list[ActionView], dict[str, TaskView]]:
    """Return the check of an instrument as its own page has it, without what undoes one."""
    fitted = line.instrument
    assert fitted is not None
    offered = check_actions(session, fitted, CHECK_KEYS)
    actions = [action for action in offered if action.id != "withdraw_check"]
    fields = check_fields(session, fitted)
    judge = next(action for action in actions if action.id == "check")
    if not fields:
        return actions, {}
    form = _form("check", judge.label, "The weight is on and the reading is steady.", fields)
    return actions, {"check": form}


def _figure(session: BenchSession, key: str) -> tuple[list[ActionView], dict[str, TaskView]]:
    """Return the form of a figure of the air; none where a fit instrument reads it."""
    quantity = AIR_LINES[key]
    if session.known_air.instrument_for(quantity, session.instruments, session.moment()):
        return [], {}
    fields = tuple(air_fields(session, quantity))
    form = _form("note_air", TITLES[key], SAYS[key], fields)
    return [ActionView("note_air", "Give what you read", "Ctrl+E", primary=True)], {
        "note_air": form
    }


def _sign_form(key: str, words: QuantityFormatter) -> TaskView:
    note = FieldView("note", "What was seen", FieldKind.TEXT)
    if key == BOTTLE:
        fields: tuple[FieldView, ...] = (
            FieldView(
                "bottle",
                "Its gauge shows",
                FieldKind.QUANTITY,
                hint=f"such as {words.pressure(140e5, 0)}",
            ),
            FieldView("note", "Remark", FieldKind.TEXT, hint="may stay empty"),
        )
    else:
        fields = (note,)
    return _form(SIGN, TITLES[key], SAYS[key], fields)


def _form(name: str, title: str, words: str, fields: tuple[FieldView, ...]) -> TaskView:
    save = ActionView(name, "Check" if name == "check" else "Save", "Return", primary=True)
    return TaskView(
        name, title, words, fields=fields, actions=(save, ActionView("leave", "Cancel", "Esc"))
    )
