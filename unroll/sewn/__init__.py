"""Pieces sewn and filled numerically, and how far from the arm that was wanted."""
