"""What the page Queue shows."""
