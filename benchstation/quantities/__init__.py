"""Quantities at the edge: text to SI and back, in a person's units."""
