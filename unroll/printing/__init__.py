"""Pages at true scale, the cover sheet, the cut plan and the sewing guide, as drawing values."""
