"""Proving that the chains in the shop's database are what was written."""

from collections.abc import Sequence

from sqlalchemy import Connection

from benchstation.store import journal, signed_heads, tree_rows
from benchstation.store.checks import Stopped
from benchstation.store.merkle import Frontier
from benchstation.store.row_check import RowError, require_chained
from benchstation.store.verification import Cancelled, Pass, Progress, Verification


def check_chains(
    connection: Connection,
    benches: Sequence[str],
    progress: Progress | None,
    cancelled: Cancelled | None,
) -> Verification:
    """Recompute every entry of these chains, and hold each signed head against its tree."""
    counted = Pass(sum(journal.count(connection, bench) for bench in benches), progress, cancelled)
    entries, last = 0, (0, journal.GENESIS)
    for bench in benches:
        heads = {head.size: head for head in signed_heads.kept(connection, bench)}
        tree, last = Frontier(), (0, journal.GENESIS)
        try:
            for row in journal.rows(connection, bench):
                counted.step()
                require_chained(row, last)
                last = row.seq, row.hash
                tree.push(tree_rows.leaf_of(row.hash))
                head = heads.pop(row.seq, None)
                if head is not None and not (head.genuine and head.root == tree.root().hex()):
                    raise RowError(f"the head signed over {row.seq} entries does not fit them.")
                entries += 1
            if heads:
                raise RowError(f"{min(heads)} entries were signed and {last[0]} are there.")
        except RowError as error:
            return Verification(False, entries, last[1], f"{bench}: {error}")
        except Stopped:
            return Verification(False, entries, last[1], "", stopped=True)
    return Verification(True, entries, last[1], "")
