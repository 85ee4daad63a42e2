"""Photographs as arrays: where the floor lies under the camera, and what lies on it."""
