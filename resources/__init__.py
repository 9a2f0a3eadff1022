"""Files the station ships: device profiles, demo shop, pictures, sounds and help."""
