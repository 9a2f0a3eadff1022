"""Virtual devices that speak bytes, for trying and testing without a bench."""
