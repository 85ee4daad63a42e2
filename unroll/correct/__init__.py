"""Pieces corrected until the arm sewn from them is the arm that was measured."""
