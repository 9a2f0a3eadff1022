"""A step's actions at constant places: two secondary ones, and the primary one at the right."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import ActionView
from benchstation.ui.widgets.readout.actions import GAP_PX, Actions

SECONDARY, PRIMARY_SHARE, NARROW_SHARE, NARROW_PX = 2, 1.5, 1.1, 640


def placed(actions: tuple[ActionView, ...]) -> tuple[tuple[int | None, ...], tuple[int, ...]]:
    """Return who stands in each of the three places, and who in the drawer, by number."""
    primary = next((n for n, action in enumerate(actions) if action.primary), None)
    others = [n for n in range(len(actions)) if n != primary]
    first = sorted(others, key=lambda n: actions[n].aside)[:SECONDARY]
    shown = sorted(first)
    places = [*shown, *([None] * (SECONDARY - len(shown))), primary]
    return tuple(places), tuple(n for n in others if n not in first)


def is_menu(actions: tuple[ActionView, ...]) -> bool:
    """Return True where there is nothing but a choice: more ways than places, and none primary."""
    return len(actions) > SECONDARY + 1 and not any(action.primary for action in actions)


class ActionSlots(Actions):
    """The step's actions; those without a place are for the drawer, and on their keys as well."""

    rest_changed = Signal()
    """Other actions are without a place."""

    def __init__(self, *, settle_s: float = 0.0, parent: QWidget | None = None) -> None:
        super().__init__(settle_s=settle_s, parent=parent)
        self._high = 0
        self.rest: tuple[ActionView, ...] = ()

    def set_height(self, high: int) -> None:
        """Take the height that the grid gives; the question may take more above it."""
        if high != self._high:
            self._high = high
            self.bar.setFixedHeight(high)
            self._place_buttons()

    def _has_place(self, count: int) -> bool:
        return count in placed(self._shown)[0]

    def _arrange(self) -> None:
        rest = tuple(self._shown[n] for n in placed(self._shown)[1])
        if rest != self.rest:
            self.rest = rest
            self.rest_changed.emit()
        self._place_buttons()

    def _place_buttons(self) -> None:
        width = self.width()
        if width <= SECONDARY * GAP_PX or self._high <= 0:
            return
        share = PRIMARY_SHARE if width >= NARROW_PX else NARROW_SHARE
        each = (width - SECONDARY * GAP_PX) / (SECONDARY + share)
        for place, count in enumerate(placed(self._shown)[0]):
            if count is None or count >= len(self.buttons):
                continue
            left = round(place * (each + GAP_PX))
            wide = width - left if place == SECONDARY else round(each)
            button = self.buttons[count]
            button.set_slot(wide, self._high)
            button.setGeometry(left, 0, wide, max(1, self._high))

    def height_for(self, width: int) -> int:
        """Return the height of the buttons, or of the question in their place."""
        return super().height_for(width) if self._asking is not None else self._high
