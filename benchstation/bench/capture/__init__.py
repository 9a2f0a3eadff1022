"""Readings captured as evidence: weighing, charging, hold test."""
