"""What runs at the bench without a screen: one desk, its live weighing and charging, its guard."""
