"""What the bench puts out: lamp, reading feed, mute of the sound."""
