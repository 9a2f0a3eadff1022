"""What a screen shows, without a window: views built from the bench and the store."""
