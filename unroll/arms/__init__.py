"""The arm in 3D, lofted and taped."""
