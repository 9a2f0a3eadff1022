"""What the page People shows."""
