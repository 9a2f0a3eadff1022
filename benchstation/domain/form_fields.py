"""Names of fields that forms of every kind send beside what they ask for."""

AT = "of step"
"""Under this name a form says of which step it is."""
SIGNATURE = "signature"
"""The field that has the PIN of whoever signs with it."""
