"""What shows a reading, an alarm or the task at hand."""
