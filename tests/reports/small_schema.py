"""The part of JSON Schema that the exported schemas use, for tests."""

import re

TYPES = {"object": dict, "array": list, "string": str, "boolean": bool, "null": type(None)}


def misfit(value, schema, root):
    """Return where a value does not fit; empty: it fits. An unknown word of a schema fails."""
    known = {"$schema", "$ref", "$defs", "title", "description", "type", "properties", "required",
             "additionalProperties", "items", "const", "pattern", "format", "minimum", "anyOf",
             "default", "enum", "prefixItems", "minItems", "maxItems", "oneOf", "discriminator",
             "maximum", "exclusiveMinimum"}  # fmt: skip
    if schema is True or schema == {}:
        return ""
    assert set(schema) <= known, set(schema) - known
    if "$ref" in schema:
        found = root
        for part in schema["$ref"].removeprefix("#/").split("/"):
            found = found[part]
        return misfit(value, found, root)
    for several in ("anyOf", "oneOf"):
        if several in schema and all(misfit(value, one, root) for one in schema[several]):
            return f"{value!r} fits none"
    if "const" in schema and value != schema["const"]:
        return f"{value!r} is not {schema['const']!r}"
    if "enum" in schema and value not in schema["enum"]:
        return f"{value!r} is not listed"
    if "type" in schema and not _is(value, schema["type"]):
        return f"{value!r} is no {schema['type']}"
    if isinstance(value, str) and not re.search(schema.get("pattern", ""), value):
        return f"{value!r} does not match"
    if isinstance(value, dict):
        return _members(value, schema, root)
    if isinstance(value, list):
        inside = schema.get("items", True)
        return next((w for v in value if (w := misfit(v, inside, root))), "")
    return ""


def _is(value, kinds):
    kinds = [kinds] if isinstance(kinds, str) else kinds
    for kind in kinds:
        if kind in ("number", "integer"):
            whole = isinstance(value, int) or (kind == "number" and isinstance(value, float))
            if whole and not isinstance(value, bool):
                return True
        elif isinstance(value, TYPES[kind]):
            return True
    return False


def _members(value, schema, root):
    for name in schema.get("required", ()):
        if name not in value:
            return f"{name} is missing"
    for name, inside in value.items():
        wanted = schema.get("properties", {}).get(name)
        if wanted is None:
            wanted = schema.get("additionalProperties", True)
            if wanted is False:
                return f"{name} is not known"
        if words := misfit(inside, wanted, root):
            return f"{name}: {words}"
    return ""
