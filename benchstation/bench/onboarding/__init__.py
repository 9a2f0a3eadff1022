"""An instrument, or a whole bench, on its way into use."""
