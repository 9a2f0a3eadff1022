"""A set side by side, and what stands against filing a unit of it."""

from benchstation.bench.session import BenchSession
from benchstation.bench.sets import UnitSet
from benchstation.bench.withdrawn import lacking_at_filing
from benchstation.domain.budget_rows import words_of
from benchstation.domain.matching import CHARGE, FORCE, OIL, Figure, Member, Spread
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.reports.remarks import figure as figure_text
from benchstation.screens.bench.actions import deviation_action
from benchstation.screens.bench.can import can_action
from benchstation.screens.model.elements import ActionView, TermGroup, TermView, Tone
from benchstation.screens.model.queue import SetCell, SetRow, SetView

_TONE = {"pass": Tone.GOOD, "undecided": Tone.CAUTION, "fail": Tone.DANGER}
_SAID = {"pass": "matches", "undecided": "undecided", "fail": "does not match"}
_AGAINST = {"undecided": "too near the limit to tell", "fail": "too much"}
NONE = "–"


def _headline(spread: Spread, words: QuantityFormatter) -> str:
    limit = (
        f", allowed {figure_text(spread.what, spread.tolerance, words)}" if spread.tolerance else ""
    )
    apart, u = (figure_text(spread.what, v, words) for v in (spread.spread, 2 * spread.u))
    return f"{spread.what}: units differ by {apart} (U {u}){limit}"


def against_set(matched: UnitSet | None, words: QuantityFormatter) -> tuple[tuple[str, Tone], ...]:
    """Warn at the last step of what does not match."""
    if matched is None:
        return ()
    if matched.refusal and not matched.against:
        return ((f"{matched.refusal[:1].upper()}{matched.refusal[1:]}", Tone.CAUTION),)
    return tuple(
        (f"{_headline(s, words)}: {_AGAINST[s.decision]}", _TONE[s.decision])
        for s in matched.against
    )


def file_actions(session: BenchSession, rebuild: Rebuild, step: Step) -> tuple[ActionView, ...]:
    """Return the actions of the last step; what does not match its set needs a deviation first."""
    matched = session.work.matched
    refusal = matched.refusal if matched is not None and not rebuild.deviated(step.id) else ""
    why = f"{refusal.partition(': ')[0]}: rework it, or accept a deviation" if refusal else ""
    missing = "" if rebuild.deviated(step.id) else lacking_at_filing(session.shop, rebuild)
    why = why or missing
    file = ActionView("file", "File this unit", "Return", not why, why, primary=True)
    if not missing and (matched is None or not matched.refusal):
        return (file,)
    return file, *can_action(rebuild, step), deviation_action(session, rebuild, step)


def set_view(matched: UnitSet, words: QuantityFormatter) -> SetView:
    """Return the set as a table: a column for each unit, a row for each figure."""
    members = matched.members
    by_what = {spread.what: spread for spread in matched.spreads}
    rows = [_row(what, members, by_what.get(what), words) for what in (OIL, CHARGE, FORCE)]
    leaks = tuple(
        SetCell(words.leak(m.leak_pa_m3_s) if m.leak_pa_m3_s is not None else NONE) for m in members
    )
    rows.append(SetRow("hold leak", leaks, "", "", Tone.QUIET))
    sides = sorted({side for m in members for side in m.stacks})
    rows += [_stacks(side, members) for side in sides]
    return SetView(
        f"{matched.order}, {matched.family}",
        tuple(m.position or NONE for m in members),
        tuple(m.serial or "not scanned yet" for m in members),
        tuple(m.state for m in members),
        tuple(rows),
        _common(matched.spreads),
    )


def _row(
    what: str, members: tuple[Member, ...], spread: Spread | None, words: QuantityFormatter
) -> SetRow:
    cells = tuple(_cell(what, m.figures.get(what), m, spread, words) for m in members)
    if spread is None:
        return SetRow(f"{what}, at reference", cells, "", "", Tone.QUIET)
    limit = f" of {figure_text(what, spread.tolerance, words)}" if spread.tolerance else ""
    apart, u = (figure_text(what, value, words) for value in (spread.spread, 2 * spread.u))
    said = f"{apart} ± {u}{limit}"
    verdict = _SAID.get(spread.decision, "not judged")
    tone = _TONE.get(spread.decision, Tone.QUIET)
    return SetRow(f"{what}, at reference", cells, said, verdict, tone)


def _cell(
    what: str,
    figure: Figure | None,
    member: Member,
    spread: Spread | None,
    words: QuantityFormatter,
) -> SetCell:
    if figure is None:
        return SetCell(NONE)
    end = spread is not None and spread.decision not in ("", "pass")
    end = end and spread is not None and member.unit_id in spread.ends
    return SetCell(figure_text(what, figure.value, words), end)


def _stacks(side: str, members: tuple[Member, ...]) -> SetRow:
    texts = [m.stacks.get(side, "") for m in members]
    same = len({text for text in texts if text}) < 2
    cells = tuple(SetCell(text or NONE, not same and bool(text)) for text in texts)
    tone = Tone.NORMAL if same else Tone.CAUTION
    return SetRow(
        f"stack, {side}",
        cells,
        "",
        "same" if same else "differ",
        tone,
    )


def _common(spreads: tuple[Spread, ...]) -> str:
    names = sorted({words_of(name) for spread in spreads for name in spread.common})
    if not names:
        return ""
    return f"± is U (k = 2) of the difference. In both, so it cancels: {', '.join(names)}."


def set_groups(matched: UnitSet | None, words: QuantityFormatter) -> tuple[TermGroup, ...]:
    """Return the set as terms for the side panel: spreads first, then each unit."""
    if matched is None:
        return ()
    terms = []
    for spread in matched.spreads:
        row = _row(spread.what, matched.members, spread, words)
        terms.append(TermView(f"{spread.what}: {row.verdict}", row.spread, strong=True))
    judged = TermGroup(f"Set {matched.order}", tuple(terms)) if terms else None
    units = tuple(
        TermGroup(
            f"{m.position or m.serial or NONE}",
            (
                TermView("Serial", m.serial or NONE, m.state),
                *(
                    TermView(
                        what.capitalize(), figure_text(what, figure.value, words), "at reference"
                    )
                    for what, figure in m.figures.items()
                ),
                *(TermView(f"Stack, {side}", text) for side, text in m.stacks.items()),
            ),
        )
        for m in matched.members
    )
    note = _common(matched.spreads)
    status_bar = (TermGroup("", (TermView("±", "U (k = 2)", note),)),) if note else ()
    return (*((judged,) if judged else ()), *units, *status_bar)
