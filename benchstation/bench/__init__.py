"""What runs at the bench without a screen: a session, its weighing, charging and guard."""
