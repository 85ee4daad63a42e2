"""A maker's sheet, read strictly: all faults at once, what is missing estimated and marked."""

from unroll.measuring.sheet_reading import outline_names, read_sheet

__all__ = ["outline_names", "read_sheet"]
