"""Pages at true scale and the guides."""
