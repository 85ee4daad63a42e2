"""The page on the maker's own machine: measures in, arm and pieces change before her eyes."""
