"""Refused by a rule of the shop: what a person wanted is not recorded, and the words say why."""

from benchstation.driver_api.errors import StationError


class NotAllowedError(StationError):
    """The route or a role does not allow this now; nothing was recorded."""
