"""What the first page of a whole shop's window shows: who is here, and how each chain stands."""

from dataclasses import dataclass

from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.session import BenchSession, barred
from benchstation.bench.time_out import warning
from benchstation.bench.without_instruments import OF_THE_SHOP
from benchstation.domain.shop_chain import SHOP
from benchstation.quantities.formatter import local_clock, local_time
from benchstation.screens.bench.task import role_words, sign_in_form
from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import ActionView, TaskView, TermGroup, TermView, Tone
from benchstation.store.shop.status import ChainStatus

NOTHING_HERE = "The whole shop. Nothing is measured here; each bench watches its own gauge."
ABOUT = (
    "Queue, Records, Specifications, People and Materials of the whole shop.\n\nUnits are rebuilt "
    "at the benches, also while the shop's database is away."
)
AT_A_BENCH = {name: "done at a bench" for name in COMMANDS if name not in OF_THE_SHOP}
HASH_SHOWN = 12


@dataclass(frozen=True, slots=True)
class ShopStanding:
    """How the shop stood when it was last looked at; ``problem``: why that is no longer known."""

    chains: tuple[ChainStatus, ...] = ()
    problem: str = ""


def shop_view(
    session: BenchSession, standing: ShopStanding, *, hint: str = "", note: str = ""
) -> BenchView:
    """Build the present moment."""
    person, unwritten = session.person, session.to_write.problem
    notes = (note, NOTHING_HERE, standing.problem, unwritten and f"Not on record yet: {unwritten}.")
    return BenchView(
        shop=session.shop.name,
        bench=SHOP,
        person=person.name if person else "nobody signed in",
        clock=local_clock(session.clock.utc(), seconds=False),
        surroundings="",
        unit_title="All benches",
        unit_subtitle="",
        steps=(),
        task=_task(session, standing, hint),
        why=_chains(standing),
        strip=(),
        alarms=(),
        notes=tuple(text for text in notes if text),
        said=session.message.text,
        said_tone=Tone.CAUTION if session.message.needs_attention else Tone.NORMAL,
        no_route=ABOUT,
        who=person.person_id if person else "",
        preferences=person.preferences if person else None,
        leaving=warning(session),
        barred={**AT_A_BENCH, **barred(session.commands, person)},
    )


def _task(session: BenchSession, standing: ShopStanding, hint: str) -> TaskView:
    if session.person is None:
        return sign_in_form(session, hint)
    waiting = sum(chain.conflicts for chain in standing.chains)
    settle = "Where two said different things, both versions wait in To settle (Shift+F4)"
    settle += f": {waiting} now." if waiting else "."
    return TaskView(
        "here",
        f"{session.person.name}, {role_words(session.person.roles)}",
        "Records (F4) finds every unit of every bench. What is done here stands in the shop's own "
        f"chain and comes to the benches by itself. {settle}",
        actions=(ActionView("sign_out", "Sign out", "Ctrl+L"),),
    )


def _chains(standing: ShopStanding) -> tuple[TermGroup, ...]:
    terms = tuple(
        TermView(
            "the shop" if chain.bench == SHOP else chain.bench,
            f"{chain.entries} entries",
            _beside(chain),
        )
        for chain in standing.chains
    )
    return (TermGroup("Chains", terms, "The shop"),)


def _beside(chain: ChainStatus) -> str:
    said = [f"last {local_time(chain.last_utc)}" if chain.last_utc else "nothing sent yet"]
    if chain.forks:
        said.append("FORK: tell QA, and look at that bench")
    if chain.conflicts:
        said.append(f"{chain.conflicts} to settle")
    said.append(f"head {chain.head[:HASH_SHOWN]}")
    return "; ".join(said)
