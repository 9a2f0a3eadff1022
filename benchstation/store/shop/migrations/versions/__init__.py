"""One step a file; a released step is never edited."""
