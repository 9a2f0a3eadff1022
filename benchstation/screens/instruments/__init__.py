"""What the page Instruments shows."""
