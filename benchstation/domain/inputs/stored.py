"""Evidence as it stands in a journal or in a filed record, read into its types."""

from collections.abc import Mapping
from typing import Any

from pydantic import TypeAdapter

from benchstation.domain.inputs.earlier import evidence_of_mapping
from benchstation.domain.inputs.registry import Evidence

_ADAPTER: TypeAdapter[Evidence] = TypeAdapter(Evidence)


def evidence_in(step: Mapping[str, Any]) -> Evidence:
    """Return the evidence of a step of a filed record, however long ago it was filed."""
    stored = step.get("evidence", ())
    if isinstance(stored, Mapping):
        stored = evidence_of_mapping(stored, str(step.get("summary", "")))
    return _ADAPTER.validate_python(stored)
