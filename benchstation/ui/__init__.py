"""The window. The only place that uses Qt."""
