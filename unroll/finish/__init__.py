"""Pieces made ready to cut: smoothed, allowed, notched, walked, laid on cloth."""
