"""One unit's rebuild: specification, route, events, and the state that is their fold."""
