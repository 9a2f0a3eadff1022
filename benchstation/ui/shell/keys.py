"""What a pressed key is called."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence


def key_name(event: QKeyEvent) -> str:
    """Return a key with its modifiers as key sequences are written; the keypad's is no other."""
    combination = event.keyCombination()
    modifiers = combination.keyboardModifiers() & ~Qt.KeyboardModifier.KeypadModifier
    key = combination.key()
    if key == Qt.Key.Key_Enter:
        key = Qt.Key.Key_Return
    return QKeySequence(key.value | modifiers.value).toString()
