"""One file a page."""
