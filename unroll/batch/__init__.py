"""Many sheets at once: a folder, a table, the sizes of one sheet."""
