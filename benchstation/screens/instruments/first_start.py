"""The screens of the first start."""

from collections.abc import Mapping
from concurrent.futures import Future
from dataclasses import dataclass, replace

from benchstation.bench.onboarding.first_start import ORDER, PATH_PARTS, FirstStart, Question
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import fixed
from benchstation.quantities.units import UnitSystem
from benchstation.screens.instruments.onboarding import (
    TITLES,
    adding_view,
    calibration_lines,
    new_groups,
)
from benchstation.screens.model.elements import (
    ActionView,
    FieldKind,
    FieldView,
    StepState,
    StepView,
    TermGroup,
    TermView,
    Tone,
)
from benchstation.screens.model.onboarding import AddingView, CardView

STEPS = {
    Question.SHOP: "Shop",
    Question.PERSON: "Person",
    Question.SCALE: "Scale",
    Question.GAUGE: "Gauge",
    Question.REVIEW: "Review",
}
WORDS = QuantityFormatter(UnitSystem.METRIC)
NEXT = "Continue"
BACK = ActionView("back", "Back", "Alt+Left")
STILL_TO_DO = (
    "Then come a second person (page People), who approves the first specification "
    "(Specifications), and oil, kits and wrenches (Materials). Bench names what is missing. "
    "A set-up file does all at once: see the README."
)


@dataclass(frozen=True, slots=True)
class FirstStartScreens:
    """Answers the window of the first start."""

    start: FirstStart

    def adding(self) -> AddingView | None:
        """Return the present screen; ``None`` when it is over."""
        return first_start_view(self.start)

    def adding_act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action of the present screen."""
        return self.start.adding_act(action, fields)


def first_start_view(start: FirstStart) -> AddingView | None:
    """Return the present screen."""
    if start.question is Question.DONE:
        return None
    steps = start.instrument
    if steps is not None:
        view = adding_view(steps)
        return _instrument(start, view) if view is not None else _wait(start)
    view = _SCREENS.get(start.question, _wait)(start)
    shown = _steps(start) if start.question in ORDER else ()
    return replace(view, step_id=f"first-{start.question}", steps=shown)


def _steps(start: FirstStart, now_at: str = "") -> tuple[StepView, ...]:
    now = ORDER.index(start.question)
    evidence = {
        Question.SHOP: start.typed.get("shop", ""),
        Question.PERSON: start.typed.get("name", ""),
    }
    evidence |= {
        q: start.new[q.value].registered.title
        for q in (Question.SCALE, Question.GAUGE)
        if q.value in start.new
    }
    return tuple(
        StepView(
            question.value,
            STEPS[question],
            StepState.DONE if n < now else StepState.NOW if n == now else StepState.WAITING,
            now_at if n == now else evidence.get(question, "") if n < now else "",
            False,
        )
        for n, question in enumerate(ORDER)
    )


def _instrument(start: FirstStart, view: AddingView) -> AddingView:
    """Show the steps of an instrument as a part of the whole."""
    names = list(TITLES.values())
    at = next(n for n, step in enumerate(view.steps) if step.state is StepState.NOW)
    actions = tuple(
        ActionView("leave", "One question back", "Esc") if action.id == "leave" else action
        for action in view.actions
    )
    return replace(
        view,
        step_id=f"{start.question}-{view.step_id}",
        steps=_steps(start, f"{names[at].lower()}, {at + 1} of {len(names)}"),
        actions=actions,
    )


def _wait(start: FirstStart) -> AddingView:
    return AddingView("first-wait", "One moment", "", _steps(start), busy=True)


def _choice(start: FirstStart) -> AddingView:
    return AddingView(
        "",
        "Welcome to the bench station",
        "It weighs the oil, watches the nitrogen charge, warns, and puts every unit on record. "
        "It only watches and warns: it controls no valve and replaces no relief device, training "
        "or local rule.",
        cards=(
            CardView(
                "Try the demonstration",
                "An invented workshop on virtual instruments. Rebuild a unit, raise alarms, find "
                "records. Nothing is kept.",
                ActionView("demo", "Try the demonstration", "1", primary=True),
            ),
            CardView(
                "Set up this bench",
                "Four questions: your shop, the first person, the scale, the gauge. "
                "Have the instruments plugged in, a check weight and its certificate at hand, and "
                "the ratings of hose, tool, gauge and regulator.",
                ActionView("set_up", "Set up this bench", "2", primary=True),
            ),
        ),
    )


def _shop(start: FirstStart) -> AddingView:
    def text(name: str, label: str, hint: str, value: str = "") -> FieldView:
        return FieldView(name, label, FieldKind.TEXT, start.typed.get(name, value), hint)

    return AddingView(
        "",
        "Your shop and this bench",
        "Ratings: what each part of the pressure path is rated for, from its plate or certificate. "
        "The guard raises its alarm at the lowest of them, or at the unit's own. "
        "Leave empty only what your path does not have.",
        lines=(
            (
                "An alarm is no relief valve. Fit one that is set below the weakest part.",
                Tone.MANDATORY,
            ),
        ),
        fields=(
            text("shop", "The shop's name", "as records show it"),
            text(
                "bench_id", "This bench's name in the records", "letters, digits, - . _", "bench-1"
            ),
            text(
                "place",
                "Altitude, or what a barometer here shows",
                "640 m, or 940 hPa not reduced to sea level; empty: sea level",
            ),
            text("temperature", "Air temperature", "such as 21 °C", "20 °C"),
            text("hose", "Fill hose rating", "such as 35 bar, or 500 psi"),
            text("tool", "Fill tool rating", ""),
            text("gauge", "End of the gauge range", ""),
            text("regulator", "Regulator outlet rating", ""),
        ),
        actions=(ActionView("shop", NEXT, "Return", primary=True), BACK),
    )


def _lead(start: FirstStart) -> AddingView:
    return AddingView(
        "",
        "A lead signs",
        "This bench has records already. A lead who is on record signs what changes; people, "
        "their roles and PINs stay as they are.",
        fields=(
            FieldView("name", "The lead's name", FieldKind.TEXT, start.typed.get("name", "")),
            FieldView("reason", "Why", FieldKind.TEXT, start.typed.get("reason", "")),
            FieldView("pin", "The lead's PIN", FieldKind.PIN, hint="signs it"),
        ),
        actions=(ActionView("person", NEXT, "Return", primary=True), BACK),
    )


def _person(start: FirstStart) -> AddingView:
    if start.signs:
        return _lead(start)
    return AddingView(
        "",
        "The first person",
        "A technician and bench lead: may rebuild units, own specifications and instruments, and "
        "accept deviations. A specification takes a second person to approve it.",
        lines=(
            (
                "The PIN tells colleagues apart at this bench. Only a salted hash of it is kept; "
                "nobody can read it back.",
                Tone.PLAIN,
            ),
        ),
        fields=(
            FieldView("name", "Name", FieldKind.TEXT, start.typed.get("name", "")),
            FieldView("pin", "PIN", FieldKind.PIN, hint="six digits or more, in no simple order"),
            FieldView("again", "The same PIN again", FieldKind.PIN),
        ),
        actions=(ActionView("person", NEXT, "Return", primary=True), BACK),
    )


def _review(start: FirstStart) -> AddingView:
    lines = [(STILL_TO_DO, Tone.PLAIN)]
    news = [start.new[role] for role in ("scale", "gauge") if role in start.new]
    for new in news:
        title = new.registered.title
        if not new.checked.passed:
            lines.insert(0, (f"{title}: its check failed.", Tone.DANGER))
        for said, tone in calibration_lines(new):
            lines.insert(0, (f"{title}: {said}", tone))
    unrated = [part for name, part in PATH_PARTS.items() if not start.typed.get(name)]
    if unrated:
        said = f"Without a rating: {', '.join(unrated)}. The guard takes no account of them."
        lines.insert(0, (said, Tone.CAUTION))
    groups = [_shop_group(start), _person_group(start)]
    if start.signs:
        lines = [(f"Changes: {change}.", Tone.CAUTION) for change in start.changes]
    for name, new in zip(("Scale", "Gauge"), news, strict=False):
        first, *others = new_groups(WORDS, new)
        groups += [replace(first, title=name), *others]
    return AddingView(
        "",
        "Review",
        "Nothing is written yet. Everything is put on record at once; later changes are new facts.",
        lines=tuple(lines),
        groups=tuple(groups),
        actions=(ActionView("write", "Set up this bench", "Return", primary=True), BACK),
    )


def _shop_group(start: FirstStart) -> TermGroup:
    bench = start.bench
    assert bench is not None
    if bench.altitude_m is not None:
        air = TermView("Altitude", f"{fixed(bench.altitude_m, 0)} m")
    elif bench.barometer_pa is not None:
        air = TermView("Barometer", WORDS.barometer(bench.barometer_pa))
    else:
        air = TermView("Altitude", "sea level")
    ratings = sorted(bench.path_ratings.items(), key=lambda item: item[1])
    return TermGroup(
        "Shop",
        (
            TermView("Name", bench.shop, strong=True),
            TermView("Bench", bench.bench_id),
            air,
            TermView("Air temperature", WORDS.temperature(bench.bench_temperature_k)),
            *(
                TermView(part.capitalize(), WORDS.gauge(rating), "" if n else "the guard's limit")
                for n, (part, rating) in enumerate(ratings)
            ),
        ),
    )


def _person_group(start: FirstStart) -> TermGroup:
    if start.signs:
        named = TermView("Name", start.typed["name"])
        return TermGroup("Signed by", (named, TermView("Why", start.typed["reason"])))
    return TermGroup(
        "Person",
        (TermView("Name", start.typed.get("name", "")), TermView("Roles", "technician, lead")),
    )


_SCREENS = {
    Question.CHOICE: _choice,
    Question.SHOP: _shop,
    Question.PERSON: _person,
    Question.REVIEW: _review,
}
