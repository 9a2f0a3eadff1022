"""A station whose people, shop, families, lots, orders and serials have names of 60 characters."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any

from benchstation.screens.model.bench import BenchView
from tests.ui.fake_station import FakeStation

LONGEST = 60
LONG = {
    "Technician 07": "Maximiliane-Stickstoffdruckpruefvorrichtungsbeauftragte Huber",
    "Technician 12": "Annegret Oberwiesenfelderhuber-Sicherheitsventilpruefmeister",
    "Technician 03": "Kugelgewindetriebsinstandsetzungsmeister Wolfgang Sample-Abc",
    "Alex Sample": "Maximiliane-Stickstoffdruckpruefvorrichtungsbeauftragte Huber",
    "Robin Sample": "Annegret Oberwiesenfelderhuber-Sicherheitsventilpruefmeister",
    "Riverside works": "Stossdaempferinstandsetzungswerkstatt und Pruefstelle Nordwe",
    "Rescue sledge, 46 mm": "Rettungsschlittenstossdaempfer Stickstoffdruckpruefvorrichtu",
    "Rescue vehicle front, 46 mm": "Rettungsfahrzeugvorderachse mit Stickstoffdruckpruefvorricht",
    "Rescue vehicle rear, 46 mm": "Rettungsfahrzeughinterachsen mit Stickstoffdruckpruefvorricht",
    "Trail carrier, 40 mm": "Gelaendefahrzeughinterachsenaufhaengung Ausfuehrung fuenfzig",
    "ISO VG 15": "Winterstossdaempferoel mit Viskositaetsindexverbesserer VG15",
    "L-0417": "L-Stickstoffdruckpruefvorrichtungsreinigungsoel-2026-0417-AB",
    "L-0388": "L-Stickstoffdruckpruefvorrichtungsreinigungsoel-2026-0388-AB",
    "A-1205": "Auftrag-Stickstoffdruckpruefvorrichtung-2026-Werk-Nord-A1205",
    "A-1204": "Auftrag-Stickstoffdruckpruefvorrichtung-2026-Werk-Nord-A1204",
    "A-1188": "Auftrag-Stickstoffdruckpruefvorrichtung-2026-Werk-Nord-A1188",
    "MR-2231": "Seriennummer-Stickstoffdruckpruefvorrichtung-00000000-MR2231",
    "MR-3201": "Seriennummer-Stickstoffdruckpruefvorrichtung-00000000-MR3201",
    "MR-2227": "Seriennummer-Stickstoffdruckpruefvorrichtung-00000000-MR2227",
}
"""A short name as the views have it, and one of 60 characters with a word that does not break."""
LONG = {short: f"{name:x<{LONGEST}}"[:LONGEST] for short, name in LONG.items()}


def stretched(value: Any) -> Any:
    """Put the long names in place of the short ones, in every text of a view but its keys."""
    if type(value) is str:
        for short, name in LONG.items():
            value = value.replace(short, name)
        return value
    if isinstance(value, tuple | list):
        return type(value)(stretched(part) for part in value)
    if isinstance(value, Mapping):
        return {key: stretched(part) for key, part in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        told = {f.name: getattr(value, f.name) for f in fields(value) if f.init}
        kept = ("id", "key", "unit_id", "page_key", "step_id", "source")
        return replace(
            value, **{name: stretched(part) for name, part in told.items() if name not in kept}
        )
    return value


class LongNames(FakeStation):
    """Answers as the fake station does, in long names."""

    def view(self) -> BenchView:
        return stretched(super().view())

    def _answer(self, result: Any) -> Any:
        return super()._answer(stretched(result))

    def instruments(self) -> Any:
        return stretched(super().instruments())
