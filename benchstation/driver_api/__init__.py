"""All that a driver author imports: the contract, readings, framing and errors. Standard library only."""
