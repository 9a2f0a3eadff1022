"""The JSON Schema of an exported record, and of each file of an export of everything.

Draft 2020-12. The schema of an exported record is shipped in ``resources/schemas`` too, one file a
form, so that a record of any day can be held against the schema of its own form.
"""

from typing import Any

from benchstation.domain.disposition import Standing
from benchstation.domain.events import EVENT_TYPES, UnitShipped, body_schema
from benchstation.domain.unit_record import record_schema
from benchstation.reports.export import FORM, PURPOSE, SCHEMA
from benchstation.reports.papers import CERTIFICATE, DATA_SHEET

_DRAFT = "https://json-schema.org/draft/2020-12/schema"
_HEX = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_SIGNATURE = {"type": "string", "pattern": "^[0-9a-f]{128}$"}
_TEXT = {"type": "string"}
_COUNT = {"type": "integer", "minimum": 1}


def schemas() -> dict[str, dict[str, Any]]:
    """Return the schemas by the name of the file that holds each."""
    return {
        "journal.schema.json": _entry(),
        "bodies.schema.json": _bodies(),
        "heads.schema.json": _head(),
        "records.schema.json": exported_record(),
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
            "signature": _SIGNATURE,
        },
    )


def exported_record() -> dict[str, Any]:
    """Return the schema of an exported record, alone in a file or a line of records/*.jsonl."""
    schema: dict[str, Any] = _object(
        "A filed unit's record with its traces and what proves it. SI values; times ISO 8601, UTC.",
        {
            "form": {"const": FORM, "description": "raised when a key changes its meaning"},
            "schema": {"const": SCHEMA, "description": "the file that holds this schema"},
            "record": {"$ref": "#/$defs/record"},
            "record_sha256": {**_HEX, "description": "of the record's canonical JSON (RFC 8785)"},
            "journal": _object(
                "The entry that filed it", {"bench": _TEXT, "entry": _COUNT, "hash": _HEX}
            ),
            "charge_at_reference": _numbers(
                "gauge_pa", "expanded_pa", "coverage_factor", "temperature_k", "ambient_pa"
            ),
            "proof": _proof(),
            "standing": _standing(),
            "photos": {"type": "array", "items": _photo()},
            "traces": {"type": "object", "additionalProperties": _exported_trace()},
            "paper": _object(
                "Of which paper it is a part; in a PDF alone",
                {"what": {"enum": [CERTIFICATE, DATA_SHEET]}, "pages_sha256": _HEX},
            ),
            "signature": _object(
                "Ed25519 over canonical JSON of all but this key, with each trace replaced by its "
                f"SHA-256, and with the key purpose: '{PURPOSE}'",
                {"public_key": _HEX, "signature": _SIGNATURE},
            ),
        },
        optional=("proof", "paper", "signature"),
    )
    record = record_schema()
    schema["$id"] = SCHEMA
    schema["$defs"] = {**record.pop("$defs", {}), "record": record}
    return schema


def _numbers(*names: str) -> Any:
    return _object("SI", {name: {"type": "number"} for name in names})


def _proof() -> Any:
    path = {"type": "array", "items": _HEX, "description": "from the leaf up (RFC 9162)"}
    return _object(
        "That the entry is in the journal whose head was signed",
        {"entry": _entry(), "path": path, "head": _head()},
    )


def _standing() -> Any:
    standings = {"enum": [standing.value for standing in Standing]}
    utc = {"type": "string", "format": "date-time"}
    said = {"standing": standings, "reason": _TEXT, "person": _TEXT, "utc": utc, "entry": _COUNT}
    signed = {**said, "meaning": _TEXT, "batch": _TEXT}
    texts = {"type": ["string", "number"]}
    amendment = {
        "number": _COUNT,
        "field": _TEXT,
        "old": texts,
        "new": texts,
        "reason": _TEXT,
        "person": _TEXT,
        "approved_by": _TEXT,
        "independent": {"type": "boolean"},
        "decision": _TEXT,
        "utc": utc,
        "entry": _COUNT,
    }
    by = {"person": _TEXT, "utc": utc, "entry": _COUNT, "chain": _TEXT}
    shipped = body_schema(UnitShipped.kind)["properties"]
    return _object(
        "What became of the unit, as it was known at an entry of the journal",
        {
            "now": standings,
            "told_to_entry": _COUNT,
            "told_to_utc": utc,
            "qa": {"type": "array", "items": _object("One word of QA", signed)},
            "amended": {"type": "string", "description": "as: amended, 2 of 2"},
            "amendments": {"type": "array", "items": _object("An amendment", amendment)},
            "shipments": {"type": "array", "items": _object("A shipment", {**shipped, **by})},
            "returns": {
                "type": "array",
                "items": _object("A return", {"complaint": _TEXT, "found": _TEXT, **by}),
            },
            "superseded": {
                "oneOf": [
                    {"type": "null"},
                    _object(
                        "The filing of a later rebuild of this serial, and what stood before",
                        {
                            "bench": _TEXT,
                            "entry": _COUNT,
                            "hash": _HEX,
                            "utc": utc,
                            "stood": standings,
                        },
                    ),
                ]
            },
        },
    )


def _photo() -> Any:
    return {
        "type": "object",
        "required": ["sha256", "caption", "step", "on_record"],
        "properties": {
            "sha256": _HEX,
            "caption": _TEXT,
            "step": _TEXT,
            "on_record": {"type": "boolean", "description": "whether the records still have it"},
        },
    }


def _exported_trace() -> Any:
    numbers = {"type": "array", "items": {"type": ["number", "null"]}}
    return _object(
        "The samples of a pour, bleed, charge or hold; null where there was no reading",
        {
            "sha256": {**_HEX, "description": "of what is stored; the record names it"},
            "stored": {"type": "string", "contentEncoding": "base64"},
            "start_utc": {"type": "string", "format": "date-time"},
            "note": _TEXT,
            "seconds": {"type": "array", "items": {"type": "number"}},
            "units": {"type": "object", "additionalProperties": _TEXT},
            "channels": {"type": "object", "additionalProperties": numbers},
        },
    )


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
