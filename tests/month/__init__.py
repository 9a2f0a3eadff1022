"""A shop of three benches for a month, worked by the program's own commands."""
