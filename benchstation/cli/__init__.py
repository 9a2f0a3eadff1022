"""The commands of the bench station."""
