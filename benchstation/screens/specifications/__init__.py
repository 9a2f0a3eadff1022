"""What the page Specifications shows."""
