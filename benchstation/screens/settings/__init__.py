"""The page Settings: what the bench goes by, and who changed what."""
