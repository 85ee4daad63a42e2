"""Pieces ready to cut: smooth lines, allowance, notches, labels, card inserts, truing checks."""

from unroll.piecing.allowance import cutting_line
from unroll.piecing.finishing import best_pieces, finish
from unroll.piecing.inserts import card_insert
from unroll.piecing.truing import check_truing

__all__ = ["best_pieces", "card_insert", "check_truing", "cutting_line", "finish"]
