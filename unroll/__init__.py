"""See an arm before cloth is cut: loft it from measures, unroll it, sew and fill it numerically."""
