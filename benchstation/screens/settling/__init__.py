"""The page To settle."""
