"""What a person does at the bench: each action checks, journals, and says what was done."""
