"""Ports, transports and the one reader thread per instrument. The only place that uses pySerial."""
