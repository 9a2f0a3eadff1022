"""What the screen shows, built from the desk as plain values: text and numbers, no judgement."""
