"""Moments of a bench that does not exist, as views: for the window's tests and pictures."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from benchstation.screens.model.bench import AlarmBannerView, BenchView, ReadingView
from benchstation.screens.model.elements import (
    ActionView,
    BigNumber,
    FieldKind,
    FieldView,
    LaneView,
    StepState,
    StepView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
    TraceView,
)

ONLY_WARNS = "This station only watches and warns. It controls no valve."
STEPS = (
    ("intake", "Intake", "weeping at the wiper", False),
    ("release", "Release the gas", "0.02 bar gauge, rod stays in", True),
    ("strip", "Strip and inspect", "seal kit lot 88", False),
    ("piston", "Floating piston", "depth 62.04 mm", False),
    ("oil", "Oil weigh-in", "221.7 g, pass", False),
    ("bleed", "Close and bleed", "3.1 g bled", False),
    ("gas", "Gas charge", "15.06 bar gauge, pass", True),
    ("function", "Function check", "returns by itself", False),
    ("file", "File", "", True),
)
SIDE = (
    ActionView("units", "Metric or inch", "Ctrl+U"),
    ActionView("back", "Back one step", "Ctrl+B", needs_reason=True),
    ActionView("abandon", "Abandon unit", "Ctrl+Delete", needs_reason=True),
    ActionView("sign_out", "Sign out", "Ctrl+L"),
)
SCALE = ReadingView(
    "scale", "Scale", "187.4", "g", "good", Tone.NORMAL, ("steady", "checked today"), "", False
)
GAUGE = ReadingView(
    "gauge",
    "Pressure",
    "14.93",
    "bar gauge",
    "good",
    Tone.NORMAL,
    ("calibrated to 2027-03-01",),
    "",
    False,
)
STALE_SCALE = replace(
    SCALE,
    health="failure",
    tone=Tone.DANGER,
    words=("no frame from the device",),
    age="4.2 s old",
    stale=True,
)
ALARM = AlarmBannerView(
    "a1",
    Tone.DANGER,
    "HIGH LIMIT   31.62 bar gauge   (hose: 30.00 bar)",
    "Close the bottle valve and vent the line. Capture is locked.",
    "peak 31.92 bar",
    "since 14:07:12",
    "Hold to acknowledge; clears below 29.00 bar",
    True,
)
WARNING = AlarmBannerView(
    "a2",
    Tone.CAUTION,
    "HIGH WARNING   31.62 bar gauge   (above 24.00 bar)",
    "Close the bottle valve now.",
    "peak 31.92 bar",
    "since 14:07:09",
    "Hold to acknowledge",
    False,
)
OIL_WHY = (
    TermGroup(
        "Target",
        (
            TermView("Fill volume", "262.0 mL at 20.0 °C", "specification"),
            TermView("Oil lot", "L-0417, ISO VG 15", "certificate of the lot"),
            TermView("Density 15 °C", "0.8513 g/mL", "certificate of the lot"),
            TermView("Density 20.0 °C", "0.8482 g/mL", "ASTM D1250-04 / ISO 91"),
            TermView("Mass", "222.22 g", "volume × density"),
            TermView("Air buoyancy", "−0.28 g", "OIML D 28, weights of 8000 kg/m³"),
            TermView("Net oil, scale shows", "221.94 g", strong=True),
        ),
    ),
    TermGroup(
        "Judgement",
        (
            TermView("Tolerance", "± 1.70 g", "specification"),
            TermView("Uncertainty u", "± 0.155 g", "GUM budget, one standard deviation"),
            TermView(
                "Accept inside", "220.5 g to 223.4 g", "JCGM 106: tolerance less 1.645 u", True
            ),
        ),
    ),
    TermGroup(
        "Here",
        (
            TermView("Air temperature", "21.4 °C"),
            TermView("A jug would read", "262.3 mL", "at this temperature"),
            TermView("+6 mL, hot full bump", "65 to 74 bar gauge"),
        ),
    ),
)


def steps(now: str, redo: str = "") -> tuple[StepView, ...]:
    """Return the route with everything before ``now`` done."""
    place = [step[0] for step in STEPS].index(now)
    views = []
    for count, (name, title, evidence, hold) in enumerate(STEPS):
        done = count < place
        state = StepState.DONE if done else StepState.NOW if name == now else StepState.WAITING
        if name == redo:
            state = StepState.REDO
        views.append(StepView(name, title, state, evidence if done else "", hold))
    return tuple(views)


def moment(task: TaskView, **changes: Any) -> BenchView:
    """Return a moment around a task."""
    view = BenchView(
        shop="Riverside works",
        bench="Bench 2",
        person="Technician 07",
        clock="Wed 14:07",
        surroundings="21.4 °C   1009 hPa",
        unit_title="MR-2231   front left",
        unit_subtitle="Rescue sledge, 46 mm, revision 4",
        steps=(),
        task=task,
        why=(),
        strip=(SCALE, GAUGE),
        alarms=(),
        side_actions=SIDE,
        notes=(ONLY_WARNS,),
    )
    return replace(view, **changes)


def pour_trace(points: int = 400) -> TraceView:
    """Return 40 s of a pour that has come to 187 g."""
    seconds = np.linspace(-40.0, 0.0, points)
    values = np.clip((seconds + 36.0) * 5.2, 0.0, None) + 0.05 * np.sin(9 * seconds)
    return TraceView(
        "Net mass", "g", seconds, values, 40.0, (("target 221.9 g", 221.9, Tone.GOOD),)
    )


def charge_trace(peak: float) -> TraceView:
    """Return 90 s of a charge to ``peak`` that settles a little."""
    seconds = np.linspace(-90.0, 0.0, 900)
    filled = np.clip(seconds + 60.0, 0.0, None)
    values = peak * (1 - np.exp(-filled / 6.0)) - 0.02 * peak * (1 - np.exp(-filled / 25.0))
    marks = (
        ("target 15.08", 15.08, Tone.GOOD),
        ("high warning 24", 24.0, Tone.CAUTION),
        ("high limit 30", 30.0, Tone.DANGER),
    )
    return TraceView("Pressure", "bar gauge", seconds, values, 90.0, marks)


def sign_in() -> BenchView:
    people = (("p1", "Alex Sample, technician"), ("p2", "Robin Sample, bench lead and QA"))
    task = TaskView(
        "sign-in",
        "Sign in",
        "Choose your name and type your PIN. Everything that is signed here carries your name.",
        fields=(
            FieldView("person", "Name", FieldKind.CHOICE, choices=people),
            FieldView("pin", "PIN", FieldKind.PIN, hint="six digits or more"),
        ),
        actions=(ActionView("sign_in", "Sign in", "Return", primary=True),),
    )
    return moment(
        task,
        person="nobody signed in",
        unit_title="No unit on the bench",
        unit_subtitle="",
        side_actions=SIDE[:1],
    )


def next_unit() -> BenchView:
    """Return the form that opens a unit."""
    task = TaskView(
        "open",
        "Next unit",
        "Put the unit on the bench and scan its serial.",
        fields=(
            FieldView("serial", "Serial", FieldKind.TEXT, hint="scan or type it"),
            FieldView(
                "specification",
                "Family",
                FieldKind.CHOICE,
                choices=(("s1", "Rescue sledge, 46 mm, revision 4"), ("s2", "Trail, 40 mm")),
            ),
            FieldView("lot", "Oil lot", FieldKind.CHOICE, choices=(("L-0417", "L-0417, VG 15"),)),
            FieldView("order", "Order", FieldKind.TEXT, hint="may stay empty"),
            FieldView(
                "position", "Position", FieldKind.TEXT, hint="such as front left; may stay empty"
            ),
        ),
        actions=(ActionView("open", "Start this unit", "Return", primary=True),),
    )
    return moment(task, unit_title="No unit on the bench", unit_subtitle="", side_actions=SIDE[::3])


def intake() -> BenchView:
    task = TaskView(
        "intake",
        "Intake",
        "Look the unit over as it came in, before anything is cleaned or opened.",
        fields=(
            FieldView("condition", "Condition as found", FieldKind.TEXT, hint="such as weeping"),
            FieldView(
                "pressure", "Gas pressure as found", FieldKind.QUANTITY, hint="such as 13.5 bar"
            ),
            FieldView("note", "Note (may stay empty)", FieldKind.TEXT),
            FieldView("confirm1", "Serial on the unit is the serial here", FieldKind.CHECK),
        ),
        actions=(ActionView("sign", "Sign this step", "Return", primary=True),),
    )
    return moment(task, steps=steps("intake"))


def release() -> BenchView:
    line = "still under pressure: not within ± 0.10 bar"
    task = TaskView(
        "release",
        "Release the gas",
        "Open the gas screw slowly until nothing more comes out.",
        cautions=(
            "Point the gas screw away from yourself and others.",
            "Wear eye protection. Follow local codes and the unit maker's instructions.",
        ),
        big=BigNumber("pressure in the unit", "3.42", "bar gauge", Tone.CAUTION),
        lines=((line, Tone.CAUTION),),
        fields=(
            FieldView(
                "confirm1", "The rod, pushed fully in by hand, stays in by itself", FieldKind.CHECK
            ),
            FieldView("note", "Note (may stay empty)", FieldKind.TEXT),
        ),
        actions=(ActionView("sign", "Sign this step", "Return", False, line, primary=True),),
    )
    strip = (SCALE, replace(GAUGE, number="3.42"))
    return moment(task, steps=steps("release"), strip=strip)


def pour() -> BenchView:
    """Return an oil weigh-in in the middle of the pour."""
    lane = LaneView("whole pour", "g", 0.0, 239.7, 187.4, 220.5, 223.4)
    near = LaneView("last part, enlarged", "g", 211.9, 227.9, 214.2, 220.5, 223.4, landing=221.2)
    actions = (
        ActionView("tare", "Tare", "T"),
        ActionView("capture", "Capture when steady", "Space", primary=True),
    )
    task = TaskView(
        "oil",
        "Oil weigh-in",
        "Pour into the body on the scale.",
        big=BigNumber("to go", "34.5", "g", Tone.PLAIN),
        lines=(
            ("slow down", Tone.CAUTION),
            ("187.4 g of 221.9 g", Tone.PLAIN),
            ("6.1 g/s, about 6 s to go", Tone.QUIET),
        ),
        lanes=(lane, near),
        trace=pour_trace(),
        actions=actions,
        urge=0.6,
    )
    return moment(task, steps=steps("oil"), why=OIL_WHY)


def undecided() -> BenchView:
    view = pour()
    actions = (
        ActionView("tare", "Tare", "T"),
        ActionView(
            "deviation",
            "Accept as a deviation",
            "Ctrl+D",
            False,
            "a bench lead or QA signs this",
            needs_reason=True,
        ),
        ActionView("sign", "Sign this step", "Return", False, "the fill is not decided"),
        ActionView("capture", "Capture again", "Space", primary=True),
    )
    task = replace(
        view.task,
        big=BigNumber("from target", "+0.3", "g", Tone.GOOD),
        lines=(
            ("in the window: capture", Tone.GOOD),
            ("223.4 g of 221.9 g", Tone.PLAIN),
            ("last captured: undecided, 1.52 g too much oil", Tone.CAUTION),
        ),
        actions=actions,
        urge=0.0,
    )
    return replace(view, task=task)


def stale_scale() -> BenchView:
    view = pour()
    assert view.task.big is not None
    why = "the scale gives no valid reading"
    task = replace(
        view.task,
        big=replace(view.task.big, stale=True),
        lines=(("no valid reading from the scale", Tone.DANGER),),
        lanes=tuple(replace(lane, value=None, landing=None) for lane in view.task.lanes),
        actions=(
            ActionView("tare", "Tare", "T", False, why),
            ActionView("capture", "Capture when steady", "Space", False, why, primary=True),
        ),
        urge=0.0,
    )
    return replace(view, task=task, strip=(STALE_SCALE, GAUGE))


def charge(number: float = 15.21) -> BenchView:
    """Return a gas charge that settles, or one that has gone too far."""
    lanes = (
        LaneView(
            "whole charge",
            "bar gauge",
            0.0,
            31.8,
            number,
            14.85,
            15.31,
            landing=number - 0.12,
            marks=(("high warning", 24.0, Tone.CAUTION), ("high limit", 30.0, Tone.DANGER)),
        ),
        LaneView(
            "near the target, enlarged",
            "bar gauge",
            13.7,
            16.46,
            number,
            14.85,
            15.31,
            landing=number - 0.12,
        ),
    )
    task = TaskView(
        "gas",
        "Gas charge",
        "Rod fully out. Charge through the fill tool, then leave the valve shut.",
        cautions=("Nitrogen only. A regulator and a relief device are required.",),
        big=BigNumber("target 15.08 bar gauge", f"{number:.2f}", "bar gauge", Tone.GOOD),
        lines=(
            ("in the window: capture", Tone.GOOD),
            ("will settle at 15.09 ± 0.03 bar", Tone.PLAIN),
            ("falling 0.008 bar/s, settled in 24 s", Tone.QUIET),
        ),
        lanes=lanes,
        trace=charge_trace(number),
        actions=(
            ActionView("hold", "Hold test", "H", False, "capture the charge first"),
            ActionView("capture", "Capture when settled", "Space", primary=True),
        ),
    )
    why = (
        TermGroup(
            "Charge",
            (
                TermView("Specified", "15.00 bar gauge", "specification, at 20.0 °C"),
                TermView("Bench", "21.4 °C, 1009 hPa"),
                TermView("Gas volume", "88.4 mL", "free volume less oil and hardware"),
                TermView("Target now", "15.08 bar gauge", "virial equation, B and C", True),
            ),
        ),
        TermGroup(
            "Limits",
            (
                TermView("High warning", "24.00 bar gauge"),
                TermView("High limit", "30.00 bar gauge", "hose, the lowest rating in the path"),
                TermView("Body rating", "80.00 bar gauge, hot full bump"),
            ),
        ),
    )
    strip = (replace(SCALE, number="412.6"), replace(GAUGE, number=f"{number:.2f}"))
    return moment(task, steps=steps("gas"), why=why, strip=strip)


def high_limit() -> BenchView:
    view = charge(31.62)
    locked = "HIGH LIMIT is not acknowledged"
    assert view.task.big is not None
    task = replace(
        view.task,
        big=replace(view.task.big, tone=Tone.DANGER),
        lines=(("above the high limit: close the valve, vent the line", Tone.DANGER),),
        actions=tuple(replace(a, enabled=False, why_not=locked) for a in view.task.actions),
    )
    words = ("high limit", "calibrated to 2027-03-01")
    strip = (view.strip[0], replace(view.strip[1], tone=Tone.DANGER, words=words))
    return replace(view, task=task, strip=strip, alarms=(ALARM,))


def two_alarms() -> BenchView:
    view = high_limit()
    return replace(view, alarms=(ALARM, WARNING))


def acknowledged() -> BenchView:
    view = high_limit()
    said = replace(
        ALARM,
        hold_label="",
        needs_reason=False,
        instruction=f"{ALARM.instruction} Acknowledged by Technician 07.",
    )
    return replace(view, alarms=(said,))


def filing() -> BenchView:
    lines = tuple((f"{title}: {words}", Tone.PLAIN) for _, title, words, _ in STEPS if words)
    task = TaskView(
        "file",
        "File",
        "Read it over. The record is written once and never altered.",
        lines=(("QA hold: the high limit was exceeded at the charge", Tone.CAUTION), *lines),
        actions=(ActionView("file", "File this unit", "Return", primary=True),),
    )
    return moment(task, steps=steps("file"))


def filed() -> BenchView:
    task = TaskView(
        "filed",
        "MR-2231 is filed",
        "Its record is written and never altered; Records shows it.",
        lines=(("Take it off the bench.", Tone.PLAIN),),
        actions=(ActionView("next", "Next unit", "Return", primary=True),),
    )
    done = tuple(replace(s, state=StepState.DONE) for s in steps("file"))
    return moment(task, steps=done)


def german_lengths() -> BenchView:
    """Return words as long as another language, or a person, may make them."""
    view = undecided()
    task = replace(
        view.task,
        title="Öleinwaage mit Auftriebskorrektur und Restmengenbestimmung",
        instruction="In den auf der Waage stehenden Zylinderrohrkörper eingießen, bis die "
        "Sollmasse innerhalb der Annahmegrenzen erreicht ist.",
        lines=(
            ("Nachlaufmenge entnehmen", Tone.CAUTION),
            ("187,4 g von 221,9 g Sollanzeige", Tone.PLAIN),
        ),
        actions=(
            ActionView("tare", "Trockenlegungstarierung", "Ctrl+Shift+T"),
            ActionView(
                "deviation",
                "Unter Abweichungsgenehmigung annehmen",
                "Ctrl+D",
                False,
                "nur die Prüfstandsleitung oder die Qualitätssicherung darf das unterschreiben",
                needs_reason=True,
            ),
            ActionView("capture", "Übernehmen bei Stillstand", "Space", primary=True),
        ),
    )
    side = tuple(
        replace(a, label=words)
        for a, words in zip(
            SIDE,
            ("Einheiten", "Schritt zurücknehmen", "Rebuild abbrechen", "Abmelden"),
            strict=True,
        )
    )
    return replace(
        view,
        task=task,
        side_actions=side,
        person="Maximiliane Mustermann-Beispielhausen",
        shop="Stoßdämpferinstandsetzungswerkstatt Nord",
        unit_title="SN-000123456789-ABCDEFG   Hinterachse rechts",
        unit_subtitle="Rettungsschlittenstoßdämpfer, 46 mm, Revision 4",
    )


MOMENTS: dict[str, Callable[[], BenchView]] = {
    "sign-in": sign_in,
    "next-unit": next_unit,
    "intake": intake,
    "release": release,
    "pour": pour,
    "undecided": undecided,
    "stale-scale": stale_scale,
    "charge": charge,
    "high-limit": high_limit,
    "two-alarms": two_alarms,
    "acknowledged": acknowledged,
    "filing": filing,
    "filed": filed,
    "german-lengths": german_lengths,
}
