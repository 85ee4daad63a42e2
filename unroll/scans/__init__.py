"""A scanned arm: mended, its landmarks found, measured level by level, its surface unrolled."""
