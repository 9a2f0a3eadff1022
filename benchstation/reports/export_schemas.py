"""The JSON Schema of each file of an export of everything (draft 2020-12)."""

from typing import Any

from benchstation.domain.events import EVENT_TYPES, body_schema
from benchstation.domain.unit_record import record_schema

_DRAFT = "https://json-schema.org/draft/2020-12/schema"
_HEX = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_TEXT = {"type": "string"}
_COUNT = {"type": "integer", "minimum": 1}


def schemas() -> dict[str, dict[str, Any]]:
    """Return the schemas by the name of the file that holds each."""
    return {
        "journal.schema.json": _entry(),
        "bodies.schema.json": _bodies(),
        "heads.schema.json": _head(),
        "records.schema.json": _record(),
        "traces.schema.json": _trace(),
        "index.schema.json": _index(),
    }


def _object(title: str, properties: dict[str, Any], *, optional: tuple[str, ...] = ()) -> Any:
    return {
        "$schema": _DRAFT,
        "title": title,
        "type": "object",
        "properties": properties,
        "required": [name for name in properties if name not in optional],
        "additionalProperties": False,
    }


def _entry() -> Any:
    return _object(
        "A line of journal/*.jsonl: one entry. The SHA-256 of the line is the entry's hash.",
        {
            "bench": _TEXT,
            "body": {"type": "object", "description": "see bodies.schema.json, by kind"},
            "kind": {"type": "string"},
            "person": _TEXT,
            "prev": {**_HEX, "description": "hash of the entry before; 64 zeros for the first"},
            "seq": _COUNT,
            "utc": {"type": "string", "format": "date-time"},
        },
    )


def _bodies() -> dict[str, Any]:
    """Return the schema of each kind's body, as this version writes it."""
    return {
        "$schema": _DRAFT,
        "title": "Bodies of entries, by their kind, as this version writes them. A body of an "
        "older form has fewer fields.",
        "kinds": {kind: body_schema(kind) for kind in sorted(EVENT_TYPES)},
    }


def _head() -> Any:
    return _object(
        "A line of journal/*.heads.jsonl: the bench's signature over its first entries.",
        {
            "bench": _TEXT,
            "size": _COUNT,
            "root": {**_HEX, "description": "root of the Merkle tree (RFC 9162) over the entries"},
            "utc": {"type": "string", "format": "date-time"},
            "public_key": {**_HEX, "description": "Ed25519"},
            "signature": {"type": "string", "pattern": "^[0-9a-f]{128}$"},
        },
    )


def _record() -> Any:
    schema = _object(
        "A line of records/*.jsonl: a filed unit's record with its traces, SI values.",
        {
            "form": {"const": 2},
            "record": {"$ref": "#/$defs/record"},
            "record_sha256": _HEX,
            "journal": _object("Where it stands", {"bench": _TEXT, "entry": _COUNT, "hash": _HEX}),
            "charge_at_reference": {"type": "object"},
            "proof": {"type": "object"},
            "standing": {"type": "object"},
            "traces": {"type": "object"},
            "photos": {"type": "array", "items": {"type": "object"}},
        },
        optional=("proof",),
    )
    record = record_schema()
    schema["$defs"] = {**record.pop("$defs", {}), "record": record}
    return schema


def _trace() -> Any:
    numbers = {"type": "array", "items": {"type": ["number", "null"]}}
    return _object(
        "A line of content/traces.jsonl: the samples of a pour, charge or hold.",
        {
            "sha256": {**_HEX, "description": "of content/traces/SHA256.bin"},
            "start_utc": {"type": "string", "format": "date-time"},
            "note": _TEXT,
            "units": {"type": "object", "additionalProperties": _TEXT},
            "microseconds": {"type": "array", "items": {"type": "integer"}},
            "channels": {"type": "object", "additionalProperties": numbers},
        },
    )


def _index() -> Any:
    chain = _object("A chain", {"bench": _TEXT, "entries": _COUNT, "hash": _HEX})
    file = _object(
        "A file", {"path": _TEXT, "bytes": {"type": "integer", "minimum": 0}, "sha256": _HEX}
    )
    return _object(
        "index.json: what is here.",
        {
            "form": {"const": 1},
            "begun_utc": {"type": "string", "format": "date-time"},
            "program": _TEXT,
            "chains": {"type": "array", "items": chain},
            "units": {"type": "integer", "minimum": 0},
            "files": {"type": "array", "items": file},
        },
    )
