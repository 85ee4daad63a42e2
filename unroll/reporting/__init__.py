"""The report: plain numbers with stable keys, and one page that needs no other file."""

from unroll.reporting.layout_caution import layout_caution
from unroll.reporting.numbers import report_dict, report_json
from unroll.reporting.page import closing_sections, opening_sections, page_html, report_html
from unroll.reporting.redrawn import redrawn_json, redrawn_lines

__all__ = [
    "closing_sections", "layout_caution", "opening_sections", "page_html", "redrawn_json",
    "redrawn_lines", "report_dict", "report_html", "report_json",
]
