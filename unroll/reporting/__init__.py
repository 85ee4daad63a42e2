"""The report: plain numbers with stable keys, and one page that needs no other file."""

from unroll.reporting.layout_caution import layout_caution
from unroll.reporting.numbers import report_dict, report_json
from unroll.reporting.page import closing_sections, opening_sections, report_html

__all__ = [
    "closing_sections", "layout_caution", "opening_sections", "report_dict", "report_html",
    "report_json",
]
