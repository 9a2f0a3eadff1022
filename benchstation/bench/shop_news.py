"""What came from the shop while the bench runs: taken over between two steps, and told in words.

Nothing of the unit on the bench is disturbed: its specification and the lots in it stay as it knew
them, and what was withdrawn stops it where the rule for withdrawn lots does.
"""

from collections.abc import Iterator

from benchstation.bench.commands.signing_in import take_back_asked
from benchstation.bench.messages import attention_if
from benchstation.bench.session import BenchSession
from benchstation.bench.shop import SORTS, Shop, shop_from
from benchstation.bench.shop_certificates import take_certificates
from benchstation.domain.materials import WITHDRAWN
from benchstation.domain.people import Role
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.shop_chain import Subject
from benchstation.domain.statement_words import withdrawn

MOST = 3
"""So many things are told one by one."""


def learn(session: BenchSession) -> None:
    """Bring what the bench works with up to date where it has taken more of the shop's chain."""
    shop, now = session.shop, session.store.shop_seq
    if shop.certificates_due:
        told = take_certificates(session)
        if told:
            session.say(f"From the shop: {' '.join(told)} Check before use.", attention_if(True))
    if now == shop.known_to:
        return
    touched = session.store.named_since(shop.known_to)
    if Subject.INSTRUMENT in touched:
        shop.look_at_certificates(one.id for one in session.instruments)
    if touched.isdisjoint(SORTS):
        shop.pass_over(now)
        return
    fresh = shop_from(
        session.store, shop.name, shop.bench, shop.ratings, shop.fill_tool_m3, shop.again
    )
    what = list(news(shop, fresh))
    serious = any(weighs for _, weighs in what)
    shop.renew(fresh, lots_in(session.rebuild))
    session.signed_in.refresh(shop.people)
    undone = take_back_asked(session)
    if what:
        sentences = [sentence for sentence, _ in what]
        rest = f" And {len(what) - MOST} more." if len(what) > MOST else ""
        session.say(
            f"From the shop: {' '.join(sentences[:MOST])}{rest}{undone}", attention_if(serious)
        )


def lots_in(rebuild: Rebuild | None) -> set[str]:
    """Return the oil lots that are in a unit, or are to come into it."""
    if rebuild is None or rebuild.ended:
        return set()
    captured = (capture.event.oil_lot for capture in rebuild.captures)
    return {rebuild.opened.oil_lot, rebuild.oil_lot, *captured} - {""}


def news(before: Shop, after: Shop) -> Iterator[tuple[str, bool]]:
    """Return what is another between two, in sentences, and whether it weighs; that comes first."""
    told = [*_of_people(before, after), *_of_lots(before, after), *_of_the_rest(before, after)]
    yield from sorted(told, key=lambda one: not one[1])


def _of_people(before: Shop, after: Shop) -> Iterator[tuple[str, bool]]:
    for key, person in after.people.items():
        was = before.people.get(key)
        if person.left and was is not None and not was.left:
            yield f"{person.name} has left and signs no longer.", True
        elif not person.left and (was is None or was.left):
            yield f"{person.name} is enrolled.", False
        elif was is not None and was.roles != person.roles:
            roles = " and ".join(role.value for role in Role if role in person.roles)
            yield f"{person.name} is {roles} now.", True
    for key, person in before.people.items():
        if key not in after.people:
            yield f"{person.name} is another person in the shop: see To settle (Shift+F4).", True


def _of_lots(before: Shop, after: Shop) -> Iterator[tuple[str, bool]]:
    for lot in after.disputed - before.disputed:
        yield f"Lot {lot} is another oil in the shop: see To settle (Shift+F4).", True
    for lot, closed in after.closed_lots.items():
        if before.closed_lots.get(lot) == closed:
            continue
        if closed.why == WITHDRAWN:
            said = withdrawn(lot, closed.reason)
            yield f"{said[:1].upper()}{said[1:]}.", True
        else:
            yield f"Lot {lot} is {closed.why}.", False
    for lot in after.lots:
        if lot not in before.lots:
            yield f"Lot {lot} is received.", False
    for key, shut in after.stock.closed.items():
        if key not in before.stock.closed and shut.why == WITHDRAWN:
            material = after.stock.received.get(key)
            name = material.lot if material is not None else key[2]
            yield f"{name} is withdrawn: {shut.reason}.", True


def _of_the_rest(before: Shop, after: Shop) -> Iterator[tuple[str, bool]]:
    known = {s.id: s for s in before.current_specifications()}
    for specification in after.current_specifications():
        was = known.get(specification.id)
        if was is None or was.revision < specification.revision:
            yield f"{specification.id}, revision {specification.revision}, is in force.", False
        elif was.sha256() != specification.sha256():
            yield f"{specification.id} is another in the shop: see To settle (Shift+F4).", True
