"""Pictures, models in 3D, words and the report."""
