"""A maker's sheet, read strictly: all faults at once, what is missing estimated and marked."""

from unroll.measuring.blank_sheets import blank_sheet
from unroll.measuring.sheet_reading import outline_names, read_sheet

__all__ = ["blank_sheet", "outline_names", "read_sheet"]
