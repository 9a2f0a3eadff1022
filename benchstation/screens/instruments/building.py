"""The screen on which a profile is made: frames with a ruler of marks, and what each text means."""

from benchstation.bench.onboarding import building as made_of
from benchstation.bench.onboarding.building import Building, field_of
from benchstation.bench.onboarding.instrument import Adding, State
from benchstation.devices.adding import printable
from benchstation.devices.profile_builder import STATES, Draft, Mark, meanings
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.quantities.notation import significant
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, Tone
from benchstation.screens.model.onboarding import AddingView, FrameLine, FramesView

BUILD = ActionView("build", "Make a profile", "Ctrl+B")
BACK = ActionView("back", "Back", "Alt+Left")
MOST_SHOWN = 12
RULER = {Mark.NUMBER: "#", Mark.UNIT: "u", Mark.STATE: "s", Mark.SIGN: "±"}
FREE = "·"
RANGE_SUCH_AS = {
    InstrumentRole.SCALE: ("0 kg", "6 kg"),
    InstrumentRole.GAUGE: ("-1 bar", "40 bar"),
    InstrumentRole.BAROMETER: ("500 hPa", "1100 hPa"),
    InstrumentRole.THERMOMETER: ("-20 °C", "80 °C"),
    InstrumentRole.HYGROMETER: ("0 %", "100 %"),
}


def build_view(adding: Adding, state: State) -> AddingView:
    """Return the moment of a profile that is made on what was heard."""
    building = state.building
    assert building is not None
    return AddingView(
        "",
        "What stands in these frames?",
        "Choose characters of one frame, then mark them. # number, u unit, s state, ± sign; what "
        "is not marked must stay the same or means nothing.",
        lines=(_verdict(building),),
        frames=_frames(building),
        fields=_fields(building, asks_role=adding.wanted_role is None),
        actions=(
            ActionView("try", "Try it", "Return", primary=True),
            *(
                ActionView(f"mark_{mark}", f"Mark {mark}", f"Ctrl+{n}")
                for n, mark in enumerate(Mark, 1)
            ),
            ActionView("save_profile", "Save and read it", "Ctrl+S"),
            BACK,
        ),
    )


def _verdict(building: Building) -> tuple[str, Tone]:
    if building.problem:
        return building.problem, Tone.CAUTION
    count, fitting = len(building.fits), building.fitting
    if fitting == count:
        return f"All {count} different frames fit.", Tone.NORMAL
    return f"{fitting} of {count} different frames fit; the others stand first.", Tone.CAUTION


def _frames(building: Building) -> FramesView:
    """Return the marked frame, then those that do not fit, then the others."""
    draft = building.draft
    marks = {at: RULER[span.mark] for span in draft.spans for at in range(span.start, span.end)}
    width = max(len(text) for text in draft.texts)
    ruler = "".join(marks.get(at, FREE) for at in range(width))
    return FramesView(ruler, tuple(_line(building, n) for n in _order(building)))


def _order(building: Building) -> list[int]:
    """Return which frames are shown, in their order, each by its place in the draft."""
    draft, fits = building.draft, building.fits
    rest = [n for n in range(len(draft.texts)) if n != draft.marked]
    rest.sort(key=lambda n: bool(fits) and fits[n].understood)
    return [draft.marked, *rest][:MOST_SHOWN]


def _line(building: Building, n: int) -> FrameLine:
    text = printable(building.draft.texts[n])
    if not building.fits:
        return FrameLine(str(n), text, "", fits=False)
    fit = building.fits[n]
    return FrameLine(str(n), text, fit.words, fit.understood)


def _fields(building: Building, *, asks_role: bool) -> tuple[FieldView, ...]:
    draft, role = building.draft, building.role
    roles = tuple((one.value, one.value) for one in InstrumentRole)
    low, high = RANGE_SUCH_AS[role]
    fields = [
        FieldView(made_of.TITLE, "What the instrument is called", FieldKind.TEXT, draft.title)
    ]
    if asks_role:
        fields.append(FieldView(made_of.ROLE, "It is a", FieldKind.CHOICE, role.value, "", roles))
    fields += [
        FieldView(made_of.LOW, "Its range from", FieldKind.TEXT, draft.low, f"such as {low}"),
        FieldView(made_of.HIGH, "to", FieldKind.TEXT, draft.high, f"such as {high}"),
        *_meanings(draft),
        FieldView(made_of.RATE, "Readings a second", FieldKind.TEXT, significant(draft.rate_hz, 6)),
    ]
    return tuple(fields)


def _meanings(draft: Draft) -> list[FieldView]:
    """Return what is asked of each text of state and unit."""
    choices = tuple((state, state) for state in STATES)
    fields = [
        FieldView(
            field_of(made_of.STATE_OF, text),
            f"State '{text}' means" if text.strip() else "No mark means",
            FieldKind.CHOICE,
            means,
            "",
            choices,
        )
        for text, means in meanings(draft).items()
    ]
    units = dict.fromkeys(text.strip() for text in draft.texts_of(Mark.UNIT))
    fields += [
        FieldView(
            field_of(made_of.UNIT_OF, text),
            f"Unit '{text}' is",
            FieldKind.TEXT,
            draft.units.get(text, text),
        )
        for text in units
        if text
    ]
    if not units:
        fields.append(
            FieldView(made_of.UNIT, "Unit of the number", FieldKind.TEXT, draft.unit, "such as bar")
        )
    return fields
