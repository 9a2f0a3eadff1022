"""Profiles, drivers and instruments."""
