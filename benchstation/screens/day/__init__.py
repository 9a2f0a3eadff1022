"""The page of the start of the day."""
