"""Settings of one bench, and setting one up from a file."""
