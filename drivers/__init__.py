"""Built-in drivers, one file per protocol family; they come in by entry point like any other."""
