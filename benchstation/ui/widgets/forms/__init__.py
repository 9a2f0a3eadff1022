"""Forms and their fields."""
