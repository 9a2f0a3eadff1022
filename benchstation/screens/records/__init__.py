"""What the page Records shows."""
