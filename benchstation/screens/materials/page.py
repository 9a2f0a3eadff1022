"""The page Materials: oil lots, what became of each, and what a nitrogen bottle still gives.

Kits, parts, wrenches and check weights stand after them (``stock``).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.session import barred
from benchstation.bench.shop import Shop
from benchstation.domain.events import OilLotClosed, OilLotReceived
from benchstation.domain.gas_charge import target_for
from benchstation.domain.materials import WITHDRAWN
from benchstation.domain.people import Person
from benchstation.domain.shop_chain import ShopFact, Subject
from benchstation.domain.specification import Specification
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import in_field
from benchstation.physics.bottle import Bottle, BottleForecast, bottle_forecast
from benchstation.physics.oil import Oil
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.quantities.notation import percent, significant
from benchstation.quantities.units import Dimension, display_unit, parse
from benchstation.screens.materials.stock import (
    RECEIVE as RECEIVE_MATERIAL,
)
from benchstation.screens.materials.stock import (
    material_rows,
    names_material,
    open_material,
    receive_fields,
)
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
from benchstation.screens.model.materials import BOTTLE, SHOW_UNITS
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError
from benchstation.store.queries import LotUse, use_of_lots

DO, LEAVE = "Return", ActionView("leave", "Cancel", "Esc")
NO_USE = LotUse(0, 0, 0.0)


@dataclass(frozen=True, slots=True)
class Materials:
    """Answers the page. Every method may take a while and is called in one thread."""

    store: ChainStore
    shop: Shop
    """The bench's own, which it alone changes."""
    air: Callable[[], Surroundings]
    today: Callable[[], date]

    def rows(self, words: QuantityFormatter) -> Sequence[ListRow]:
        """Return the lots that are open, the bottle, what else may be used, then the rest."""
        shop = self.shop
        is_open = {lot.lot for lot in shop.open_lots(self.today())}
        # Of those that are closed it is shown when one is opened: they grow with the years.
        use = use_of_lots(self.store, is_open)
        lots = [_row(lot, shop, use, words, self.today()) for lot in list(shop.lots.values())]
        ordered = sorted(lots, key=lambda row: row.key)
        closed = [row for row in ordered if row.key not in is_open]
        there = [row for row in ordered if row.key in is_open]
        good, bad = material_rows(self.store, shop, self.today())
        return [*there, _BOTTLE_ROW, *good, *closed, *bad]

    def open(self, key: str, by: Person | None, words: QuantityFormatter) -> ListDetail:
        """Open a lot or the bottle as ``by``, who is signed in, may change it."""
        shop = self.shop
        if key == BOTTLE:
            return self._bottle(shop, by, words, {})
        if names_material(key):
            found = open_material(self.store, shop, key, words, self.today())
            actions = permitted((*found.actions, *RECEIVE), barred(COMMANDS, by), by_id=True)
            return replace(found, actions=actions, forms=_lot_forms(shop, words))
        lot = shop.lots.get(key)
        if lot is None:
            raise NotOnRecordError("no such oil lot is on record.", where="Materials")
        use = use_of_lots(self.store, [lot.lot])
        groups = (_density(lot, words), self._used(lot, use, words), _taken_by(lot, shop))
        return ListDetail(
            _row(lot, shop, use, words, self.today()),
            (*groups, self._on_record(lot)),
            permitted(_lot_actions(key, shop), barred(COMMANDS, by), by_id=True),
            _lot_forms(shop, words),
            {"lot_open": key},
        )

    def work_out(
        self, fields: Mapping[str, str], by: Person | None, words: QuantityFormatter
    ) -> ListDetail:
        """Work out how many charges of a family a bottle still gives."""
        shop = self.shop
        chosen = [s for s in shop.current_specifications() if s.id == fields.get("family")]
        if not chosen:
            raise NotAllowedError(
                "no family is chosen.", where="Nitrogen bottle", advice="Choose one."
            )
        return self._bottle(shop, by, words, fields, chosen[0])

    def _used(
        self, lot: OilLotReceived, use: Mapping[str, LotUse], words: QuantityFormatter
    ) -> TermGroup:
        used = use.get(lot.lot, NO_USE)
        shared = f", {used.shared} with oil of other lots too left out" if used.shared else ""
        return TermGroup(
            "Used",
            (
                TermView("Units with it", f"{used.units}"),
                TermView(
                    "Net oil in them",
                    words.amount(used.net_oil_kg),
                    f"as last judged, of {used.weighed} of them{shared}",
                ),
            ),
        )

    def _on_record(self, lot: OilLotReceived) -> TermGroup:
        names = {key: person.name for key, person in self.store.people().items()}
        found = self.store.facts(Subject.LOT)
        mine = [fact for fact in found if getattr(fact.event, "lot", "") == lot.lot]
        return TermGroup("On record", tuple(_fact(entry, names) for entry in mine))

    def _bottle(
        self,
        shop: Shop,
        by: Person | None,
        words: QuantityFormatter,
        fields: Mapping[str, str],
        family: Specification | None = None,
    ) -> ListDetail:
        groups = (self._forecast(family, fields, words),) if family else (_BOTTLE_WORDS,)
        form = _bottle_form(shop, words, self.air().temperature_k)
        open_bottle = ActionView(BOTTLE, "Calculate a bottle", "Ctrl+B", primary=True)
        return ListDetail(
            _BOTTLE_ROW,
            groups,
            permitted((open_bottle, *RECEIVE), barred(COMMANDS, by), by_id=True),
            {BOTTLE: form, **_lot_forms(shop, words)},
        )

    def _forecast(
        self, family: Specification, fields: Mapping[str, str], words: QuantityFormatter
    ) -> TermGroup:
        def read(name: str, dimension: Dimension, usual: str = "") -> float:
            text = fields.get(name, "").strip() or usual
            with in_field(name):
                return parse(text, dimension, default_unit=display_unit(dimension, words.system))

        at_k = read("at", Dimension.TEMPERATURE, f"{self.air().temperature_k} K")
        air = replace(self.air(), temperature_k=at_k)
        oil = Oil(family.oil.typical_rho15)
        target = target_for(family, oil, family.oil.volume, air)
        bottle = Bottle(
            parse(fields.get("volume", ""), Dimension.VOLUME, default_unit="L"),
            read("gauge", Dimension.PRESSURE),
            at_k,
            air.pressure_pa,
        )
        forecast = bottle_forecast(
            bottle,
            target.target_gauge_pa,
            target.gas_volume_m3,
            dead_volume_m3=read("dead", Dimension.VOLUME, "0 mL"),
            regulator_drop_pa=read("drop", Dimension.PRESSURE, "0 bar"),
        )
        return _forecast_terms(family, target.target_gauge_pa, bottle, forecast, words)


_BOTTLE_ROW = ListRow(BOTTLE, "Nitrogen bottle", ("charges left in it",), "", Tone.QUIET)
_BOTTLE_WORDS = TermGroup(
    "What a bottle still gives",
    (
        TermView(
            "Calculate",
            "Ctrl+B",
            "Type its size and what its gauge shows; the charge is that of the family at the "
            "bench's temperature.",
        ),
    ),
)


def _row(
    lot: OilLotReceived,
    shop: Shop,
    use: Mapping[str, LotUse],
    words: QuantityFormatter,
    today: date,
) -> ListRow:
    closed = shop.closed_lots.get(lot.lot)
    used = use.get(lot.lot, NO_USE)
    offered = not shop.why_closed(lot.lot, today)
    oil = "not used yet" if offered else ""
    if used.units:
        units = f"{used.units} unit{'' if used.units == 1 else 's'}"
        oil = f"{units}, {words.amount(used.net_oil_kg)}"
    tone = Tone.NORMAL
    if closed is not None:
        tone = Tone.DANGER if closed.why == WITHDRAWN else Tone.QUIET
    state = closed.why if closed else "open"
    if closed is None and lot.until and date.fromisoformat(lot.until) < today:
        state, tone = "expired", Tone.CAUTION
    return ListRow(lot.lot, lot.lot, (lot.oil, oil) if oil else (lot.oil,), state, tone)


def _density(lot: OilLotReceived, words: QuantityFormatter) -> TermGroup:
    own = lot.alpha_per_k
    oil = lot.known
    return TermGroup(
        lot.oil,
        (
            TermView(
                f"Density at {words.oil_base}",
                words.density(lot.rho15_kg_m3),
                lot.source,
                strong=True,
            ),
            TermView("Supplier", lot.supplier or "not stated"),
            TermView("Use until", lot.until or "not stated"),
            TermView(
                f"Density at {words.temperature(293.15)}",
                words.density(oil.density(293.15)),
                "ASTM D1250-04",
            ),
            TermView(
                "Standard uncertainty",
                words.density(lot.u_rho_rel * lot.rho15_kg_m3),
                f"{percent(lot.u_rho_rel, 3)} of it",
            ),
            TermView(
                "Expansion coefficient",
                words.expansion(oil.alpha15_per_k),
                "the lot's own" if own is not None else "generalised, ASTM D1250-04 / ISO 91",
            ),
        ),
    )


def _taken_by(lot: OilLotReceived, shop: Shop) -> TermGroup:
    fits = [
        TermView(s.family, f"revision {s.revision}")
        for s in shop.current_specifications()
        if s.oil.grade.casefold() == lot.oil.casefold()
    ]
    none = (TermView("None", "", "no specification in force names this oil"),)
    return TermGroup("Specifications that take it", tuple(fits) or none)


def _fact(entry: ShopFact, names: Mapping[str, str]) -> TermView:
    event = entry.event
    said = "received"
    if isinstance(event, OilLotClosed):
        said = f"{event.why}: {event.reason}" if event.reason else event.why
    when = local_time(entry.utc)
    return TermView(when, said, f"by {names.get(entry.person, entry.person)}")


RECEIVE = (
    ActionView("receive_certificate", "Receive by certificate", "Ctrl+N"),
    ActionView("receive_hydrometer", "Receive by hydrometer", "Ctrl+H"),
    ActionView("receive_two_densities", "Receive by two densities", "Ctrl+T"),
    RECEIVE_MATERIAL,
)


def _lot_actions(key: str, shop: Shop) -> tuple[ActionView, ...]:
    closed = shop.closed_lots.get(key)
    why, can = f"it is {closed.why}" if closed else "", closed is None
    return (
        ActionView(SHOW_UNITS, "Records of its units", "Ctrl+R", primary=True),
        ActionView("use_up", "Close: used up", "Ctrl+E", can, why),
        ActionView(
            "withdraw_lot",
            "Withdraw the lot",
            "Ctrl+Delete",
            can,
            why,
            needs_reason=True,
            needs_pin=True,
        ),
        *RECEIVE,
    )


def _lot_forms(shop: Shop, words: QuantityFormatter) -> dict[str, TaskView]:
    density = display_unit(Dimension.DENSITY, words.system)
    warmth = display_unit(Dimension.TEMPERATURE, words.system)
    step = display_unit(Dimension.TEMPERATURE_DIFFERENCE, words.system)
    grades = dict.fromkeys(s.oil.grade for s in shop.current_specifications())
    lot = FieldView("lot", "Name of the lot", FieldKind.TEXT)
    oil = FieldView(
        "oil", "Oil", FieldKind.TEXT, hint=", ".join(grades) or "as the specification names it"
    )
    source = FieldView(
        "source", "Source of the density", FieldKind.TEXT, hint="such as certificate and number"
    )
    supplier = FieldView("supplier", "Supplier", FieldKind.TEXT)
    until = FieldView("until", "Use until (may stay empty)", FieldKind.TEXT, hint="2027-01-31")
    rho = FieldView("density", "Density", FieldKind.QUANTITY, hint=density)
    u = FieldView("u", "Standard uncertainty of the density", FieldKind.QUANTITY, hint=density)
    at = FieldView("at", "Read at", FieldKind.QUANTITY, hint=warmth)
    u_at = FieldView("u_at", "Uncertainty of the temperature", FieldKind.QUANTITY, hint=step)
    alpha = FieldView(
        "expansion", "Expansion coefficient (may stay empty)", FieldKind.QUANTITY, hint="1/K"
    )
    return {
        "receive_certificate": _form(
            "receive_certificate",
            "Receive a lot by its certificate",
            f"The density at {words.oil_base} as the certificate states it (ISO 3675, ISO 12185).",
            (
                lot,
                oil,
                replace(rho, label=f"Density at {words.oil_base}"),
                u,
                alpha,
                source,
                supplier,
                until,
            ),
            "Receive it",
        ),
        "receive_hydrometer": _form(
            "receive_hydrometer",
            "Receive a lot by a hydrometer",
            f"One reading and the oil's temperature; it is brought to {words.oil_base} by ASTM "
            "D1250-04.",
            (lot, oil, rho, u, at, u_at, source, supplier, until),
            "Receive it",
        ),
        "receive_two_densities": _form(
            "receive_two_densities",
            "Receive a lot by two densities",
            "Two readings give the lot's own expansion: their temperatures differ by "
            f"{words.temperature_difference(5.0)} or more, better "
            f"{words.temperature_difference(20.0)}.",
            (
                lot,
                oil,
                replace(rho, label="First density"),
                at,
                replace(rho, id="density2", label="Second density"),
                replace(at, id="at2"),
                u,
                u_at,
                source,
                supplier,
                until,
            ),
            "Receive it",
        ),
        RECEIVE_MATERIAL.id: _form(
            RECEIVE_MATERIAL.id,
            "Receive a kit, part, wrench or weight",
            "Choose what it is. Mass and class are a check weight's alone.",
            receive_fields(words),
            "Receive it",
        ),
    }


def _bottle_form(shop: Shop, words: QuantityFormatter, bench_k: float) -> TaskView:
    families = tuple((s.id, s.family) for s in shop.current_specifications())
    pressure = display_unit(Dimension.PRESSURE, words.system)
    volume = display_unit(Dimension.VOLUME, words.system)
    usual = f"empty: the bench's, {words.temperature(bench_k)}"
    return _form(
        BOTTLE,
        "What a bottle still gives",
        "Counted by mass with nitrogen's real density; the bottle comes back to this temperature "
        "between fills.",
        (
            FieldView("family", "Family", FieldKind.CHOICE, choices=families),
            FieldView("volume", "Size of the bottle", FieldKind.QUANTITY, hint="L"),
            FieldView("gauge", "Its gauge shows", FieldKind.QUANTITY, hint=pressure),
            FieldView("at", "Temperature", FieldKind.QUANTITY, hint=usual),
            FieldView("dead", "Dead volume of the fill tool", FieldKind.QUANTITY, hint=volume),
            FieldView("drop", "Regulator needs above it", FieldKind.QUANTITY, hint=pressure),
        ),
        "Calculate",
    )


def _forecast_terms(
    family: Specification,
    charge_pa: float,
    bottle: Bottle,
    forecast: BottleForecast,
    words: QuantityFormatter,
) -> TermGroup:
    left = forecast.fills_left
    return TermGroup(
        f"{family.family}, {significant(bottle.volume_m3 * 1e3, 6)} L at "
        f"{words.gauge(bottle.gauge_pa, 1)}",
        (
            TermView("Fills left", f"{left}", "that still reach the charge", strong=True),
            TermView(
                "Charge", words.gauge(charge_pa), f"at {words.temperature(bottle.temperature_k)}"
            ),
            TermView(
                "A fill draws", words.mass(forecast.drawn_per_fill_kg), "conservation of mass"
            ),
            TermView("The bottle drops by each", words.pressure(forecast.drop_per_fill_pa)),
            TermView(
                "After the last", words.gauge(forecast.after_last_pa, 1) if left else "no fill left"
            ),
            TermView("Change the bottle below", words.gauge(forecast.change_below_pa, 1)),
        ),
    )


def _form(name: str, title: str, words: str, fields: tuple[FieldView, ...], do: str) -> TaskView:
    actions = (ActionView(name, do, DO, primary=True), LEAVE)
    return TaskView(name, title, words, fields=fields, actions=actions)
