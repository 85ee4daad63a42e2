"""The arm cut along its seam lines, laid flat, its distortion measured."""
