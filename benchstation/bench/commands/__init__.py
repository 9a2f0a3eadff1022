"""What a person does at the desk: each action checks, journals, and says what was done."""
