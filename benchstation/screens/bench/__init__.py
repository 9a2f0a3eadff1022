"""What the screen shows, built from the bench as plain values: text and numbers, no judgement."""
