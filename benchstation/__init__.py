"""A bench station for rebuilding gas-charged monotube dampers."""

__version__ = "1.0.0"
