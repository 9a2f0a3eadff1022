"""The calibrations of what is fitted: in force, history and drift, a new one worked out and signed.

A new certificate is worked out before it is signed: what it says, whether it is over, and what the
error as found did to units filed since the calibration before.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.capture.repeatability_run import USUAL_TIMES, RepeatabilityRun
from benchstation.bench.certificate_form import certificate_from
from benchstation.bench.commands.calibrating import TAKE_EXPIRED
from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.in_doubt import as_found
from benchstation.bench.session import BenchSession, barred
from benchstation.domain.calibrating import Certificate, registered_with
from benchstation.domain.events import InstrumentRegistered
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.people import Person
from benchstation.metrology.due import Standing, standing
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.instruments import calibration_words as words_of
from benchstation.screens.instruments.calibration_words import Figures
from benchstation.screens.instruments.certificate_fields import certificate_fields
from benchstation.screens.instruments.onboarding import LOCKED
from benchstation.screens.model.elements import (
    SIGNATURE,
    YOUR_PIN,
    ActionView,
    FieldKind,
    FieldView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
    permitted,
)
from benchstation.screens.model.instruments import BEGIN_STUDY, CALIBRATE, EDIT, END_STUDY, WORK_OUT
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.records import UNITS_OF
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError
from benchstation.store.instrument_history import calibrations_of, studies_of

LEAVE = ActionView("leave", "Cancel", "Esc")
_TONE = {
    Standing.VALID: Tone.NORMAL,
    Standing.DUE_SOON: Tone.CAUTION,
    Standing.OVERDUE: Tone.DANGER,
    Standing.UNKNOWN: Tone.DANGER,
}


@dataclass(frozen=True, slots=True)
class Calibrations:
    """Answers the page. Every method may take a while and is called in one thread."""

    store: ChainStore
    session: BenchSession
    """Only asked for what is fitted and for the day."""

    def rows(self, words: QuantityFormatter) -> Sequence[ListRow]:
        """Return what is fitted, as it stands at the bench."""
        return [self._row(one) for one in self.session.instruments]

    def open(self, key: str, by: Person | None, words: QuantityFormatter) -> ListDetail:
        """Open an instrument as ``by``, who is signed in, may change it."""
        fitted = self._fitted(key)
        registered, figures = fitted.registered, Figures(fitted.role, words)
        run = self.session.study
        if run is not None and run.fitted is fitted:
            return _running(self._row(fitted), run, figures)
        history, today = calibrations_of(self.store, key), self._today()
        names = {name: person.name for name, person in self.store.people().items()}
        by_day = words_of.by_day(history)
        past = words_of.history_group(by_day, figures)
        past = replace(past, terms=(*words_of.trend_terms(by_day, figures), *past.terms))
        groups = [words_of.in_force_group("Calibration in force", registered, figures, today)]
        if len(history) > 1:
            groups.append(self._effect_of_last(history[-2].event, history[-1].event, words)[1])
        if fitted.role is InstrumentRole.SCALE:
            studies = studies_of(self.store, key)
            groups.append(words_of.repeatability_group(studies, names, figures))
        acts = [ActionView(CALIBRATE, "New calibration", "Ctrl+N", primary=True)]
        if fitted.role is InstrumentRole.SCALE:
            acts.append(ActionView(BEGIN_STUDY, "Repeatability run", "Ctrl+T"))
        acts.append(ActionView(UNITS_OF, "Records of its units", "Ctrl+R"))
        return ListDetail(
            self._row(fitted),
            (*groups, past),
            permitted(tuple(acts), barred(COMMANDS, by), by_id=True),
            {CALIBRATE: self._form(fitted, words, {}), BEGIN_STUDY: _study_form(words)},
            {"instrument": key},
            curves=words_of.drift_curve(by_day, figures),
        )

    def work_out(
        self, fields: Mapping[str, str], by: Person | None, words: QuantityFormatter
    ) -> ListDetail:
        """Return what a typed certificate says and did, to be signed. Raises ``StationError``."""
        fitted, today = self._fitted(fields.get("instrument", "")), self._today()
        registered, figures = fitted.registered, Figures(fitted.role, words)
        step = fitted.resolution(0.0)
        certificate = certificate_from(fields, fitted.role, words.system, today, step=step)
        new = registered_with(registered, certificate)
        worse, effect = self._effect_of_last(registered, new, words)
        groups = (effect, words_of.in_force_group("This certificate", new, figures, today))
        drift = words_of.drift_of(registered, new, certificate.high or 0.0)
        lines = [_expired_line(certificate, today)] if certificate.expired(today) else []
        if new.calibrated_on < registered.calibrated_on:
            said = f"The calibration in force is newer: {words_of.name_of(registered)}."
            lines.append((said, Tone.CAUTION))
        if worse:
            units = "One filed result" if worse == 1 else f"{worse} filed results"
            said = f"{units} would be judged less well: signing holds them for QA."
            lines.append((said, Tone.DANGER))
        if drift is not None:
            said = words_of.drift_words(drift, figures)
            at = figures.value(drift.reading)
            tone = Tone.CAUTION if drift.proved else Tone.PLAIN
            lines.append((f"At {at} it {said}.", tone))
        sign = ActionView(CALIBRATE, "Sign it", "Ctrl+S", primary=True)
        typed = {name: text for name, text in fields.items() if name not in (SIGNATURE, "reason")}
        return ListDetail(
            self._row(fitted),
            groups,
            (
                *permitted((sign,), barred(COMMANDS, by), by_id=True),
                ActionView(EDIT, "Change what is typed", "Ctrl+E"),
                LEAVE,
            ),
            {CALIBRATE: _signature(certificate, today), EDIT: self._form(fitted, words, typed)},
            typed,
            tuple(lines),
        )

    def _fitted(self, key: str) -> BenchInstrument:
        found = [one for one in self.session.instruments if one.id == key]
        if not found:
            raise NotOnRecordError("no such instrument is fitted.", where="Instruments")
        return found[0]

    def _today(self) -> date:
        return self.session.today

    def _row(self, fitted: BenchInstrument) -> ListRow:
        registered = fitted.registered
        until = registered.calibrated_until
        found = standing(date.fromisoformat(until) if until else None, self._today())
        below = (f"{fitted.role}, {fitted.id}", registered.certificate or "no certificate")
        state = f"to {until}" if until else "no calibration"
        note = "" if found in (Standing.VALID, Standing.UNKNOWN) else found.value
        return ListRow(fitted.id, registered.title, below, state, _TONE[found], note=note)

    def _effect_of_last(
        self, before: object, after: object, words: QuantityFormatter
    ) -> tuple[int, TermGroup]:
        """Return how many results the error that was found made worse, and that in words."""
        assert isinstance(before, InstrumentRegistered)
        assert isinstance(after, InstrumentRegistered)
        name, found = words_of.name_of(before), as_found(self.store, before, after, self._today())
        if found.effects is None:
            return 0, words_of.unknown_effect_group(found.records, name)
        group = words_of.effect_group(found.effects, found.records, name, words)
        return len(found.worse), group

    def _form(
        self, fitted: BenchInstrument, words: QuantityFormatter, typed: Mapping[str, str]
    ) -> TaskView:
        return TaskView(
            f"certificate-{fitted.id}",
            f"{fitted.registered.title}: new calibration",
            "From its certificate: the points up and down, or gain, offset and uncertainty. "
            "Nothing is written before you sign.",
            fields=certificate_fields(fitted.role, words, typed),
            actions=(ActionView(WORK_OUT, "Calculate", "Return", primary=True), LEAVE),
        )


def _study_form(words: QuantityFormatter) -> TaskView:
    return TaskView(
        "repeatability",
        "Repeatability run",
        "A weight on and off the pan, each time until it is kept by itself. Take one of about the "
        "mass that is weighed; hands off while it waits.",
        fields=(
            FieldView("nominal", "The weight", FieldKind.QUANTITY, words.rough_mass(0.2)),
            FieldView("times", "How often it is put on", FieldKind.TEXT, str(USUAL_TIMES)),
        ),
        actions=(ActionView(BEGIN_STUDY, "Begin", "Return", primary=True), LEAVE),
    )


def _running(row: ListRow, run: RepeatabilityRun, figures: Figures) -> ListDetail:
    """Return what a run waits for and what it kept so far."""
    pairs = list(zip(run.empty, run.loaded, strict=False))
    wanted = "Put the weight on; hands off" if run.wants_load else "Empty the pan; hands off"
    lines = [(f"{wanted}. {len(pairs)} of {run.times} are kept.", Tone.MANDATORY)]
    if run.problem:
        lines.insert(0, (f"{run.problem[0].upper()}{run.problem[1:]}.", Tone.CAUTION))
    kept = tuple(
        TermView(f"{n}", figures.off(loaded - empty, run.fitted.resolution(0.0)))
        for n, (empty, loaded) in enumerate(pairs, 1)
    )
    return ListDetail(
        row,
        (TermGroup("Weight less empty pan", tuple(reversed(kept))),) if kept else (),
        (
            ActionView("zero", "Zero the empty scale", "Ctrl+O"),
            ActionView(END_STUDY, "End it, keep nothing", "Ctrl+T"),
        ),
        {},
        {"instrument": run.fitted.id},
        tuple(lines),
    )


def _expired_line(certificate: Certificate, today: date) -> tuple[str, Tone]:
    days = (today - certificate.until).days
    said = f"This certificate expired on {certificate.until}, {days} days ago. {LOCKED}"
    return said, Tone.DANGER


def _signature(certificate: Certificate, today: date) -> TaskView:
    """Return the form that signs: an expired certificate is taken only by a word of its own."""
    fields = [
        FieldView("reason", "Why it is put on record", FieldKind.TEXT, hint="yearly calibration"),
        YOUR_PIN,
    ]
    if certificate.expired(today):
        words = f"It expired on {certificate.until}; put it on record anyway"
        fields.insert(0, FieldView(TAKE_EXPIRED, words, FieldKind.CHECK))
    return TaskView(
        "sign-certificate",
        f"Sign certificate {certificate.number}",
        "It is in force from the next reading on. What was captured keeps its calibration.",
        fields=tuple(fields),
        actions=(ActionView(CALIBRATE, "Sign and use it", "Return", primary=True), LEAVE),
    )
