"""What a leak limit means and what a hold test can prove of it, said before it starts."""

from benchstation.bench.session import BenchSession
from benchstation.domain.leak_limits import (
    GaugeAtHand,
    HoldProof,
    hold_proof,
    second_proves,
    wait_to_prove_s,
)
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification
from benchstation.quantities.formatter import QuantityFormatter, span
from benchstation.quantities.notation import fixed
from benchstation.screens.model.elements import TermGroup, TermView, Tone

USUAL_STEP_PA, USUAL_EACH_S = 1000.0, 0.1
USUAL_U_MASS_KG = 2e-5
"""Two weighings on a scale of 0.01 g: what a second reading by mass is counted with."""
SECONDS_BY_MASS = "0.01 g on the scale"


def proof_at_hand(session: BenchSession, rebuild: Rebuild) -> HoldProof:
    """Return what the hold test of the unit at hand can prove, by its gauge and its temperature."""
    gauge, body = session.gauge, session.unit_temperature(rebuild)
    step_pa = gauge.resolution(USUAL_STEP_PA)
    at_hand = GaugeAtHand(step_pa, step_pa, USUAL_EACH_S)
    return hold_proof(rebuild.specification, at_hand, body.u_offset_k, body.body)


def before_hold(proof: HoldProof, seconds: float, words: QuantityFormatter) -> tuple[str, Tone]:
    """Return what the hold test can prove, in one line."""
    limit = proof.loss_pa_s(proof.allowed)
    least, allowed = words.loss_rate(proof.loss_pa_s(proof.least), limit), words.loss_rate(limit)
    said = f"a hold of {fixed(seconds, 0)} s can show a loss of {least}; allowed is {allowed}"
    if not proof.proves_allowed:
        return f"{said}: too short to prove it", Tone.CAUTION
    return said, Tone.QUIET


def service_group(
    specification: Specification, proof: HoldProof, words: QuantityFormatter
) -> TermGroup:
    """Return the leak limits of a specification and what its route can prove of them."""
    s = specification

    def limit(name: str, rate: float, note: str) -> TermView:
        lost = words.loss_rate(proof.loss_pa_s(rate))
        return TermView(name, f"{words.leak(rate)}, {lost}", note)

    held = (
        f"steps of {words.pressure(100.0, 3)}, unit known to {words.temperature_difference(1.0, 1)}"
    )
    hold = "hold test proves it" if proof.proves_allowed else "this hold test cannot prove it"
    terms = [
        limit("Hold test can show", proof.least, f"in {fixed(s.gas.hold_time, 0)} s; {held}"),
        limit("Hold test allows", proof.allowed, hold),
    ]
    if s.gas.service is not None:
        lost = words.pressure(s.gas.service.lost)
        asked = f"{lost} in {span(s.gas.service.within)} of service"
        terms.append(limit("Service allows", proof.service, asked))
        terms.append(TermView("Proven by", *_proven(s, proof)))
    return TermGroup("Leak", tuple(terms))


def _proven(s: Specification, proof: HoldProof) -> tuple[str, str]:
    if proof.proves_service:
        return "the hold test", ""
    wait = span(wait_to_prove_s(s, USUAL_U_MASS_KG))
    needs = f"its mass proves it after {wait}, with {SECONDS_BY_MASS}"
    match second_proves(s, USUAL_U_MASS_KG):
        case None:
            return "nothing on this route", f"no hold test shows it; {needs}"
        case True:
            return "the second reading", needs
        case False:
            return "nothing on this route", f"the second reading comes too early: {needs}"
