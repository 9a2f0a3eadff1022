"""The audit trail: every entry of the journals in plain words, who and when and why."""
