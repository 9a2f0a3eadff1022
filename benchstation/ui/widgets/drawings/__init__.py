"""Drawings to scale, and pictures."""
