"""A bench station for rebuilding gas-charged monotube dampers."""

__version__ = "0.1.0"
