"""All that a person may do at the desk, by name, and who may."""

from collections.abc import Mapping

from benchstation.bench.commands import (
    by_hand,
    capturing,
    filing,
    fitting,
    materials,
    muting,
    opening,
    orders,
    pausing,
    signing_in,
    specifying,
    weighing,
)
from benchstation.bench.commands import enrolment as people
from benchstation.bench.commands import form_entry as adding
from benchstation.bench.commands import signing as working
from benchstation.bench.session import Action
from benchstation.domain.people import Role

WORKERS = frozenset((Role.TECHNICIAN, Role.LEAD))
LEADS = frozenset((Role.LEAD,))
LEADS_AND_QA = frozenset((Role.LEAD, Role.QA))
QA = frozenset((Role.QA,))

ACTIONS: Mapping[str, Action] = {
    "sign_in": Action(signing_in.sign_in, signed_in=False),
    "badge": Action(signing_in.badge, signed_in=False),
    "sign_out": Action(signing_in.sign_out),
    "mute": Action(muting.mute),
    "switch": Action(signing_in.switch),
    "stay": Action(signing_in.stay),
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
    "typed": Action(adding.typed, signed_in=False),
    "same_lots": Action(adding.same_lots, WORKERS),
    "add_photo": Action(adding.add_photo, WORKERS),
    "newest_photo": Action(adding.newest_photo, WORKERS),
    "set_photo_aside": Action(adding.set_photo_aside, WORKERS),
    "deviation": Action(working.deviation, LEADS_AND_QA),
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
    "dispose": Action(filing.dispose, QA),
    "draft": Action(specifying.draft, LEADS),
    "approve": Action(specifying.approve, LEADS_AND_QA),
    "enrol": Action(people.enrol, LEADS),
    "take_back": Action(people.take_back, LEADS),
    "change_roles": Action(people.change_roles, LEADS),
    "reset_pin": Action(people.reset_pin, LEADS),
    "take_off": Action(people.take_off, LEADS),
    "change_pin": Action(people.change_pin),
    "register_badge": Action(people.register_badge),
    "drop_badge": Action(people.drop_badge),
    "prefer": Action(people.prefer),
    "fit": Action(fitting.may_fit, LEADS_AND_QA),
    "receive_certificate": Action(materials.receive_certificate, LEADS),
    "receive_hydrometer": Action(materials.receive_hydrometer, LEADS),
    "receive_two_densities": Action(materials.receive_two_densities, LEADS),
    "use_up": Action(materials.use_up, LEADS),
    "withdraw_lot": Action(materials.withdraw, LEADS),
}
