"""What a screen shows as frozen values, and the services that a window may call."""
