"""What waits for somebody, on one page: units, instruments and lots, each leading to its act."""
