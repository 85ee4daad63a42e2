"""Arrays only: ellipses, sections, triangles, energies, membranes, packing."""
