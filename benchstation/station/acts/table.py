"""All that a person may do at the desk, by name, and who may."""

from collections.abc import Mapping

from benchstation.people import Role
from benchstation.station.acts import (
    adding,
    by_hand,
    capturing,
    filing,
    muting,
    opening,
    orders,
    pausing,
    signing_in,
    specifying,
    weighing,
    working,
)
from benchstation.station.desk import Action

WORKERS = frozenset((Role.TECHNICIAN, Role.LEAD))

ACTIONS: Mapping[str, Action] = {
    "sign_in": Action(signing_in.sign_in, signed_in=False),
    "sign_out": Action(signing_in.sign_out),
    "mute": Action(muting.mute),
    "open": Action(opening.open_unit, WORKERS),
    "look_up": Action(orders.look_up, WORKERS),
    "start_line": Action(orders.start_line, WORKERS),
    "place_order": Action(orders.place_order, WORKERS),
    "change_order": Action(orders.change_order, WORKERS),
    "withdraw": Action(orders.withdraw, WORKERS),
    "import_units": Action(orders.import_units, WORKERS),
    "set_aside": Action(pausing.set_aside, WORKERS),
    "fetch": Action(pausing.fetch, WORKERS),
    "prove": Action(pausing.prove, WORKERS),
    "to_release": Action(pausing.to_release, WORKERS),
    "hand_over": Action(pausing.hand_over, WORKERS),
    "take_over": Action(pausing.take_over, WORKERS),
    "next": Action(opening.next_unit),
    "sign": Action(working.sign, WORKERS),
    "typed": Action(adding.typed),
    "same_lots": Action(adding.same_lots, WORKERS),
    "add_photo": Action(adding.add_photo, WORKERS),
    "newest_photo": Action(adding.newest_photo, WORKERS),
    "set_photo_aside": Action(adding.set_photo_aside, WORKERS),
    "deviation": Action(working.deviation),
    "back": Action(working.back, WORKERS),
    "abandon": Action(working.abandon, WORKERS),
    "tare": Action(capturing.tare, WORKERS),
    "capture": Action(capturing.capture, WORKERS),
    "cancel": Action(capturing.cancel, WORKERS),
    **{
        name: Action(do, WORKERS)
        for name, do in (
            ("ways", weighing.ways),
            ("leave", weighing.leave),
            ("by_gain", weighing.by_gain),
            ("by_loss", weighing.by_loss),
            ("by_difference", weighing.by_difference),
            ("topup", weighing.topup),
            ("spill", weighing.spill),
            ("main", weighing.main),
            ("again", weighing.again),
            ("other_lot", weighing.other_lot),
            ("pour_rest", weighing.pour_rest),
            ("by_hand", by_hand.by_hand),
            ("take_by_hand", by_hand.take_by_hand),
        )
    },
    "nothing_bled": Action(capturing.nothing_bled, WORKERS),
    "hold": Action(capturing.hold, WORKERS),
    "file": Action(filing.file, WORKERS),
    "dispose": Action(filing.dispose),
    "draft": Action(specifying.draft),
    "approve": Action(specifying.approve),
}
