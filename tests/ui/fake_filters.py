"""The form of a search's filters as a station would give it, without records."""

from benchstation.screens.model.filters import question_in
from benchstation.screens.records.filter_form import form_of


def form(text):
    """Return the form with a few names to choose from and one saved search."""
    named = [("anna", "Anna Ruiz"), ("ben", "Ben Kofler")]
    choices = dict.fromkeys(("accepted", "opened", "signed", "filed"), named)
    return form_of(question_in(text), choices, {"on hold": 'qa:"on hold"'}, keeps=True)
