"""All that a person may do at the desk, by name, and who may."""

from collections.abc import Mapping

from benchstation.people import Role
from benchstation.station.acts import (
    capturing,
    filing,
    muting,
    opening,
    people,
    signing_in,
    specifying,
    stores,
    working,
)
from benchstation.station.desk import Action

WORKERS = frozenset((Role.TECHNICIAN, Role.LEAD))
LEADS = frozenset((Role.LEAD,))

ACTIONS: Mapping[str, Action] = {
    "sign_in": Action(signing_in.sign_in, signed_in=False),
    "badge": Action(signing_in.badge, signed_in=False),
    "sign_out": Action(signing_in.sign_out),
    "mute": Action(muting.mute),
    "switch": Action(signing_in.switch),
    "stay": Action(signing_in.stay),
    "open": Action(opening.open_unit, WORKERS),
    "next": Action(opening.next_unit),
    "sign": Action(working.sign, WORKERS),
    "deviation": Action(working.deviation),
    "back": Action(working.back, WORKERS),
    "abandon": Action(working.abandon, WORKERS),
    "tare": Action(capturing.tare, WORKERS),
    "capture": Action(capturing.capture, WORKERS),
    "cancel": Action(capturing.cancel, WORKERS),
    "nothing_bled": Action(capturing.nothing_bled, WORKERS),
    "hold": Action(capturing.hold, WORKERS),
    "file": Action(filing.file, WORKERS),
    "dispose": Action(filing.dispose),
    "draft": Action(specifying.draft),
    "approve": Action(specifying.approve),
    "enrol": Action(people.enrol, LEADS),
    "take_back": Action(people.take_back, LEADS),
    "change_roles": Action(people.change_roles, LEADS),
    "reset_pin": Action(people.reset_pin, LEADS),
    "take_off": Action(people.take_off, LEADS),
    "change_pin": Action(people.change_pin),
    "register_badge": Action(people.register_badge),
    "drop_badge": Action(people.drop_badge),
    "prefer": Action(people.prefer),
    "receive_certificate": Action(stores.receive_certificate, LEADS),
    "receive_hydrometer": Action(stores.receive_hydrometer, LEADS),
    "receive_two_densities": Action(stores.receive_two_densities, LEADS),
    "use_up": Action(stores.use_up, LEADS),
    "withdraw": Action(stores.withdraw, LEADS),
}
