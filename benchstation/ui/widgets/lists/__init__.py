"""Lists and the details that they open."""
