"""What charts are drawn from: a row of figures for each unit that ended, and its groups.

The figures are those of the record as it was filed. A unit given up has none; it stands in its
groups all the same, since it is one that did not come out right.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, bindparam, insert, select

from benchstation.domain.events import RebuildAbandoned, UnitEvent, UnitFiled
from benchstation.domain.materials import Sort
from benchstation.store.column_limits import fitting
from benchstation.store.journal import Entry
from benchstation.store.schema import (
    figure_group,
    unit,
    unit_deviation,
    unit_figure,
    unit_instrument,
    unit_lot,
    unit_material,
)
from benchstation.store.search_projections import LONGEST_LOT

ALL, BENCH, INSTRUMENT, LOT = "", "bench", "instrument", "lot"
OIL_BY, CHARGE_BY = "oil_by", "charge_by"
"""The sorts of groups; the last two by who signed the step that weighed or charged."""
AT = " at "
"""Between an instrument's id and its bench: two benches may each have one of that name."""
LONGEST_DECISION, LONGEST_STEP = 20, 200
_JUDGED = {OIL_BY: "oil", CHARGE_BY: "charge"}

_UNIT = select(unit.c.technician, unit.c.family_key).where(
    unit.c.bench == bindparam("own"), unit.c.unit_id == bindparam("this")
)
_INSTRUMENTS = select(unit_instrument.c.instrument_id).where(
    unit_instrument.c.bench == bindparam("own"), unit_instrument.c.unit_id == bindparam("this")
)
_LOTS = select(unit_lot.c.lot).where(
    unit_lot.c.bench == bindparam("own"), unit_lot.c.unit_id == bindparam("this")
)
_PARTS = select(unit_material.c.lot).where(
    unit_material.c.bench == bindparam("own"),
    unit_material.c.unit_id == bindparam("this"),
    unit_material.c.sort.in_((Sort.KIT.value, Sort.PART.value)),
    unit_material.c.lot != "",
)

_KEEP_FIGURE, _KEEP_DEVIATIONS = insert(unit_figure), insert(unit_deviation)
_KEEP_GROUPS = insert(figure_group)


def project(connection: Connection, entry: Entry) -> None:
    """Keep the figures of a unit that ended."""
    match entry.event:
        case UnitFiled() as filed:
            _keep(connection, entry, filed, filed.record, decision=filed.decision)
        case RebuildAbandoned() as given_up:
            _keep(connection, entry, given_up, {}, decision="")


def _keep(
    connection: Connection,
    entry: Entry,
    event: UnitEvent,
    record: Mapping[str, Any],
    *,
    decision: str,
) -> None:
    this = {"own": entry.bench, "this": event.unit_id}
    opened = connection.execute(_UNIT, this).one_or_none()
    if opened is None:
        return
    deviations, reopened = _rows(record, "deviations"), _rows(record, "rework")
    attempts = [str(row.get("decision", "")) for row in _rows(record, "attempts")]
    right_away = decision == "pass" and not deviations and not reopened
    # What could not be told yet, and was settled within its step, is no second try.
    first_pass = right_away and "fail" not in attempts
    ended = {"bench": entry.bench, "unit_id": event.unit_id, "ended_utc": entry.utc}
    row = {
        **ended,
        "first_pass": first_pass,
        "reopened": len(reopened),
        **_figures(record),
    }
    connection.execute(_KEEP_FIGURE, fitting(unit_figure, row))
    steps = _rows(record, "steps")
    titles = {_text(s, "id", LONGEST_STEP): _text(s, "title", LONGEST_STEP) for s in steps}
    signed = [
        fitting(
            unit_deviation,
            {
                "bench": entry.bench,
                "unit_id": event.unit_id,
                "place": place,
                "step_id": (step := _text(deviation, "step", LONGEST_STEP)),
                "step": titles.get(step, step),
            },
        )
        for place, deviation in enumerate(deviations)
    ]
    if signed:
        connection.execute(_KEEP_DEVIATIONS, signed)
    groups = {(ALL, ""), (BENCH, entry.bench)}
    groups |= {(sort, _signer(record, what) or opened.technician) for sort, what in _JUDGED.items()}
    ids = connection.execute(_INSTRUMENTS, this).scalars()
    groups |= {(INSTRUMENT, f"{name}{AT}{entry.bench}") for name in ids}
    lots = {*connection.execute(_LOTS, this).scalars(), *connection.execute(_PARTS, this).scalars()}
    groups |= {(LOT, lot) for lot in lots if len(lot) <= LONGEST_LOT}
    rows = [
        {**ended, "sort": sort, "name": name, "family_key": family, "first_pass": first_pass}
        for sort, name in sorted(groups)
        for family in dict.fromkeys((opened.family_key, ""))
    ]
    connection.execute(_KEEP_GROUPS, [fitting(figure_group, row) for row in rows])


def _figures(record: Mapping[str, Any]) -> dict[str, Any]:
    oil, charge, hold = (_part(record, name) for name in ("oil", "charge", "hold"))
    return {
        "oil_kg": _number(oil, "net_shown_kg"),
        "oil_target_kg": _number(oil, "target_shown_kg"),
        "oil_tolerance_kg": _number(oil, "tolerance_kg"),
        "oil_u_kg": _number(oil, "u_kg"),
        "oil_decision": _decision(oil),
        "charge_pa": _number(charge, "settled_gauge_pa"),
        "charge_target_pa": _number(charge, "target_gauge_pa"),
        "charge_tolerance_pa": _number(charge, "tolerance_pa"),
        "charge_u_pa": _number(charge, "u_pa"),
        "charge_decision": _decision(charge),
        "leak_pa_m3_s": _number(hold, "leak_pa_m3_s"),
        "leak_allowed_pa_m3_s": _number(hold, "allowed_pa_m3_s"),
        "leak_u_pa_m3_s": _number(hold, "u_leak_pa_m3_s"),
        "leak_scatter_pa_m3_s": _number(hold, "u_scatter_pa_m3_s"),
        "leak_slow_pa_m3_s": _number(hold, "slow_pa_m3_s"),
        "leak_stuck": hold.get("gauge_stuck") is True,
        "leak_decision": _decision(hold),
    }


def _decision(part: Mapping[str, Any]) -> str:
    return _text(part, "decision", LONGEST_DECISION)


def _signer(record: Mapping[str, Any], what: str) -> str:
    """Return who signed the step that was judged last as this; empty: the record names none."""
    steps = [row.get("step") for row in _rows(record, "attempts") if row.get("what") == what]
    signers = {row.get("id"): row.get("person") for row in _rows(record, "steps")}
    found = signers.get(steps[-1]) if steps else None
    return found if isinstance(found, str) else ""


def _part(record: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = record.get(name)
    return found if isinstance(found, Mapping) else {}


def _rows(record: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    return list(_mappings(record.get(name)))


def _mappings(found: object) -> Iterator[Mapping[str, Any]]:
    if isinstance(found, list | tuple):
        yield from (row for row in found if isinstance(row, Mapping))


def _text(part: Mapping[str, Any], name: str, longest: int) -> str:
    # A record that does not fit is filed all the same: no unit waits for a chart.
    return str(part.get(name, "")).replace("\0", "")[:longest]


def _number(part: Mapping[str, Any], name: str) -> float | None:
    value = part.get(name)
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return float(value) if is_number and value is not None else None
