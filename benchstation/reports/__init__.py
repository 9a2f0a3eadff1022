"""Certificate and exports of a filed unit."""
