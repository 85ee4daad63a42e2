"""The only modules that touch the disk."""
