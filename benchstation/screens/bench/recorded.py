"""Steps that a person records and signs: confirmed, measured, chosen, written, fitted, shown."""

from benchstation.bench.commands.evidence import expected_force
from benchstation.bench.session import BenchSession
from benchstation.domain.cautions import cautions_at
from benchstation.domain.measuring import Limits, limits_of
from benchstation.domain.parts import lot_field
from benchstation.domain.photos import LARGEST_BYTES, of_step, size_in_words
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.seal_off import seal_off_of
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.step_content import Hold, Source
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import Dimension, shown
from benchstation.screens.bench.actions import deviation_action
from benchstation.screens.bench.forms import form_fields, pressure_lines, sign_action, text_field
from benchstation.screens.bench.stack import stack_fields
from benchstation.screens.model.elements import (
    ActionView,
    BigNumber,
    FieldKind,
    FieldView,
    PhotoView,
    TaskView,
    Tone,
)

Lines = tuple[tuple[str, Tone], ...]
Actions = tuple[ActionView, ...]
NOT_EMPTY = "(may stay empty)"


def recorded_task(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> TaskView:
    """Return the task of a step that is signed with what its form says."""
    big, lines, fields, actions = _of_kind(session, rebuild, step, words)
    return TaskView(
        step.id,
        step.title,
        step.instruction,
        cautions_at(rebuild.specification, step),
        big=big,
        lines=(*pressure_lines(session, words), *lines),
        fields=(*fields, *form_fields(session, step)),
        actions=actions,
    )


def _of_kind(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> tuple[BigNumber | None, Lines, tuple[FieldView, ...], Actions]:
    accept = deviation_action(session, rebuild, step)
    match step.kind:
        case StepKind.MEASURE:
            return _measure(session, rebuild, step, words)
        case StepKind.TORQUE:
            return None, *_torque(session, step, words), (sign_action(), accept)
        case StepKind.CHOOSE:
            lines, fields = _choose(session, step)
            return None, lines, fields, (sign_action(), *((accept,) if lines else ()))
        case StepKind.NOTE:
            return None, (), _note(session, step), (sign_action(),)
        case StepKind.PARTS:
            return (
                None,
                _lots(session, step),
                _parts(session, step),
                (
                    sign_action(),
                    _same_lots(session, step),
                    accept,
                ),
            )
        case StepKind.STACK:
            return None, (), stack_fields(session, rebuild, step), (sign_action(), accept)
        case StepKind.PHOTO:
            actions = _photo_actions(session, rebuild, step)
            # What is there is in order; only too few are a deviation.
            few = () if actions[0].enabled else (accept,)
            return None, _counted(rebuild, step), _photos(session, rebuild, step), (*actions, *few)
        case _ if step == seal_off_of(rebuild.specification):
            return _sealed(session, rebuild, words, accept)
        case _:
            return None, (), (), (sign_action(),)


def _sealed(
    session: BenchSession, rebuild: Rebuild, words: QuantityFormatter, accept: ActionView
) -> tuple[BigNumber | None, Lines, tuple[FieldView, ...], Actions]:
    """Show the fill line where a gauge reads it; while it is under pressure nothing is signed."""
    gauge = session.gauge.good_value(session.clock.seconds())
    gas = rebuild.specification.gas
    band = words.pressure(gas.release_zero_band)
    if gauge is None:
        line = "no valid reading: the vented line goes on record by your word alone"
        return None, ((line, Tone.MANDATORY),), (), (sign_action(),)
    pressed = gas.under_pressure(gauge)
    number = words.pressure_shown(gauge)
    tone = Tone.CAUTION if pressed else Tone.GOOD
    big = BigNumber("pressure in the fill line", number.number, f"{number.unit} gauge", tone)
    if not pressed:
        return big, ((f"inside ± {band}", tone),), (), (sign_action(),)
    why = f"the line is under pressure: close screw and bottle, vent it to within ± {band}"
    return big, ((why, tone),), (), (sign_action(False, why), accept)


def _asked(limits: Limits | None, words: QuantityFormatter) -> str:
    return limits.in_words(words.system) if limits else ""


def _measure(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> tuple[BigNumber | None, Lines, tuple[FieldView, ...], Actions]:
    measure = step.measure
    assert measure is not None
    limits = limits_of(step, expected_force(session, rebuild, step))
    asked = _asked(limits, words)
    word = "expected for this unit" if measure.reference else "specified"
    line = f"{word}: {asked}" if asked else "recorded only: no limits"
    lines: Lines = ((line, Tone.PLAIN),)
    accept = (deviation_action(session, rebuild, step),) if limits is not None else ()
    if measure.source is Source.TYPED or session.steadying is None:
        field = text_field(session, "value", measure.label, FieldKind.QUANTITY, hint=asked)
        return None, lines, (field,), (sign_action(), *accept)
    now = session.clock.seconds()
    fitted = session.steadying.fitted
    value, steady = fitted.good_value(now), session.steadying.taken(now)
    if not accept and fitted.unfit(session.clock.utc().date()):
        accept = (deviation_action(session, rebuild, step),)
    unfit = "" if rebuild.deviated(step.id) else fitted.unfit(session.clock.utc().date())
    state = session.steadying.state(now)
    number = shown(float("nan") if value is None else value, measure.of, words.system)
    inside = limits is None or (value is not None and limits.holds(value))
    tone = Tone.DANGER if value is None else Tone.GOOD if inside else Tone.CAUTION
    unit = f"{number.unit} gauge" if measure.of is Dimension.PRESSURE else number.unit
    big = BigNumber(measure.label, number.number, unit, tone, value is None)
    told: list[tuple[str, Tone]] = [(state, Tone.GOOD if steady else Tone.MANDATORY)]
    if unfit:
        told.insert(0, (unfit, Tone.DANGER))
    why_not = unfit or ("" if steady else state)
    return big, (*told, *lines), (), (sign_action(not why_not, why_not, "Take and sign"), *accept)


def _torque(
    session: BenchSession, step: Step, words: QuantityFormatter
) -> tuple[Lines, tuple[FieldView, ...]]:
    torque = step.torque
    assert torque is not None
    asked = _asked(limits_of(step), words)
    fields = [text_field(session, "value", torque.label, FieldKind.QUANTITY, hint=asked)]
    if torque.tool:
        fields.append(text_field(session, "tool", "Torque wrench", hint="its id or serial"))
    return ((f"specified: {asked}", Tone.PLAIN),), tuple(fields)


_HOLD_WORDS = {
    Hold.NONE: "",
    Hold.QA: " (QA hold)",
    Hold.DEVIATION: " (deviation only)",
}


def _choose(session: BenchSession, step: Step) -> tuple[Lines, tuple[FieldView, ...]]:
    choice = step.choose
    assert choice is not None
    choices = tuple((o.id, f"{o.text}{_HOLD_WORDS[o.hold]}") for o in choice.options)
    field = text_field(session, "choice", choice.label, FieldKind.CHOICE, choices=choices)
    closed = [o.text for o in choice.options if o.hold is Hold.DEVIATION]
    words = "can be signed only as a deviation"
    lines = tuple((f"\u201c{text}\u201d {words}", Tone.QUIET) for text in closed)
    return lines, (field,)


def _note(session: BenchSession, step: Step) -> tuple[FieldView, ...]:
    asked = step.text
    assert asked is not None
    label = asked.label if asked.required else f"{asked.label} {NOT_EMPTY}"
    return (text_field(session, "text", label, FieldKind.LINES, hint=asked.hint),)


def _lots(session: BenchSession, step: Step) -> Lines:
    if any(part.lot for part in step.parts) and session.known.lots_from:
        return ((f"last unit of this family: {session.known.lots_from}", Tone.QUIET),)
    return ()


def _parts(session: BenchSession, step: Step) -> tuple[FieldView, ...]:
    fields = []
    for place, part in enumerate(step.parts, 1):
        what = f"{part.count} × {part.name}, {part.number}"
        if not part.lot:
            fields.append(text_field(session, lot_field(place), f"{what}, fitted", FieldKind.CHECK))
            continue
        last = session.known.lots.get(part.number, "")
        hint = f"lot; last time {last}" if last else "lot: scan or type it"
        fields.append(text_field(session, lot_field(place), what, hint=hint))
    return tuple(fields)


def _same_lots(session: BenchSession, step: Step) -> ActionView:
    why_not = "" if session.known.lots else "no unit of this family with lots is filed yet"
    return ActionView("same_lots", "Lots as last unit", "Ctrl+K", not why_not, why_not)


def _counted(rebuild: Rebuild, step: Step) -> Lines:
    assert step.photos is not None
    count, least = len(of_step(rebuild, step)), step.photos.least
    tone = Tone.GOOD if count >= least else Tone.MANDATORY
    return ((f"{count} on record, at least {least} specified", tone),)


def _photos(session: BenchSession, rebuild: Rebuild, step: Step) -> tuple[FieldView, ...]:
    asked = step.photos
    assert asked is not None
    views = tuple(
        PhotoView(
            p.photo_sha256,
            f"{p.caption or 'no caption'}, {size_in_words(p.size_bytes)}",
            _picture(session, p.photo_sha256),
        )
        for p in of_step(rebuild, step)
    )
    hint = asked.hint or f"JPEG or PNG, up to {LARGEST_BYTES / 1e6:.0f} MB"
    photo = FieldView(
        "photo", asked.label, FieldKind.PHOTO, session.typed.get("photo", ""), hint, photos=views
    )
    caption = text_field(session, "caption", f"Caption of the next one {NOT_EMPTY}")
    return caption, photo


def _picture(session: BenchSession, sha256: str) -> bytes:
    """Return a picture's bytes; none where it is missing or damaged, which is drawn as such."""
    if sha256 not in session.pictures:
        try:
            session.pictures[sha256] = session.store.get_photo(sha256)
        except StationError:
            session.pictures[sha256] = b""
    return session.pictures[sha256]


def _photo_actions(session: BenchSession, rebuild: Rebuild, step: Step) -> Actions:
    assert step.photos is not None
    taken, least = len(of_step(rebuild, step)), step.photos.least
    full = "" if taken < step.photos.most else f"there are {taken} already"
    folder = full or (
        "" if session.photo_folder else "no folder of a camera is named in the settings"
    )
    enough = taken >= least
    return (
        sign_action(enough, "" if enough else f"{least - taken} still to add"),
        ActionView("add_photo", "Add the chosen file", "Ctrl+P", not full, full),
        ActionView("newest_photo", "Newest of the camera", "Ctrl+N", not folder, folder),
        ActionView(
            "set_photo_aside",
            "Set the last aside",
            "Ctrl+S",
            bool(taken),
            "" if taken else "there is none yet",
        ),
    )
