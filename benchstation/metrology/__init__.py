"""Judging a measurement: stability, uncertainty, conformity, calibration, control charts. Pure."""
