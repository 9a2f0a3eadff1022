"""The check weight that a scale is proven with: one on record, or received with the scale."""

from collections.abc import Mapping, Sequence
from datetime import date

from benchstation.domain.materials import Material, Sort
from benchstation.domain.receiving import Described, material_of, require_unexpired
from benchstation.domain.unit_commands import NotAllowedError

DESCRIBED = ("lot", "weight_class", "certificate", "until")
"""What is typed of a weight that is not on record yet, beside its nominal mass."""


def weight_on(
    known: Sequence[Material], fields: Mapping[str, str], nominal_kg: float | None, today: date
) -> Material:
    """Return the weight that a form names; raise for none, and for one that may not be used.

    ``known`` are those on record. Anything typed describes another one, by the rules of Materials.
    """
    typed = {name: fields.get(name, "").strip() for name in DESCRIBED}
    if not any(typed.values()) and nominal_kg is None:
        chosen = next((w for w in known if w.lot == fields.get("weight", "")), None)
        if chosen is None:
            raise NotAllowedError(
                "it is not said which check weight is on it.",
                where="Prove",
                advice="Choose it, or type what its certificate says.",
                field="weight" if known else "lot",
            )
        return chosen
    described = Described(
        Sort.WEIGHT,
        "",
        typed["lot"],
        f"Check weight {fields.get('nominal', '').strip()}".strip(),
        f"certificate {typed['certificate']}",
        typed["until"],
        typed["certificate"],
        nominal_kg,
        typed["weight_class"],
    )
    weight = material_of(described, today)
    require_unexpired(weight.until, today, calibrated=True)
    return weight
