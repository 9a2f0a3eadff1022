"""All that a driver author imports: contract, readings, framing, options and errors.

Standard library only.
"""
