"""Plots over time or travel."""
