"""What the page Materials shows."""
