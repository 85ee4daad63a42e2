"""Arrays only: ellipses, curves, triangles, meshes, sparse solvers."""
