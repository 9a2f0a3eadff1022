"""The window of a whole shop, without instruments."""
