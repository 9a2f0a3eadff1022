"""The page Quality: charts of the process, and what another limit would do."""
