"""One file per kind of input that a step asks for: its model, its check and its result."""
