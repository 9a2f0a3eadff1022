"""The demo shop: virtual devices on the bench, a technician's script, and a past of filed units."""
