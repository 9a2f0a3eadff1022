"""The window itself: navigation, status bar, bridge to the bench, keyboard and theme."""
