"""Bytes in, bytes out; all or nothing."""
