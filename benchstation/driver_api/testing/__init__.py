"""What a driver author tests a driver with: the conformance kit."""
