"""The physics of an oil-filled, gas-charged monotube damper: floats and arrays in SI, no I/O."""
