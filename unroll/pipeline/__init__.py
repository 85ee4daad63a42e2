"""The recipe, as a maker would tell it: measure, loft, cut, flatten, draft, compare, sew."""
