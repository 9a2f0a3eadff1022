"""How much air the oil of a fill may hold, dissolved and as bubbles: sizes for a note.

Dissolved: the Bunsen coefficient of mineral oil is about 0.09 (volume of air at 0 degC and one
atmosphere in a volume of oil under one atmosphere; Magorien, Hydraulics and Pneumatics 20 (1967)
no. 4, from memory). It swells the oil by less than its own mass tells: only its mass is weighed.
Bubbles weigh nothing to speak of, but take room until the charge presses them (p V = const.).
"""

BUNSEN = 0.09
AIR_KG_M3 = 1.293
"""Air at 0 degC and one atmosphere (ISO 2533, dry)."""


def dissolved_kg(oil_m3: float) -> float:
    """Return the mass of the air that is dissolved in so much oil that stood open, kg."""
    return BUNSEN * AIR_KG_M3 * oil_m3


def bubbles_m3(oil_m3: float, share: float, pressure_pa: float, ambient_pa: float) -> float:
    """Return the room of bubbles that were this share of the poured volume, under a pressure."""
    return share * oil_m3 * ambient_pa / pressure_pa
