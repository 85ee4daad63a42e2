"""Quick stand-ins for the job of one sheet among many, which other processes can run."""

from __future__ import annotations

import os
import signal
import time
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from tests.own_pieces import own_sheet, square
from unroll.batch.making import Task, write_made
from unroll.disk.cut_shapes import CUT_SHAPES, shapes_json
from unroll.errors import UnrollError
from unroll.finish.finishing import finish
from unroll.nouns import FIGURES, FinishedPiece, Made

HEADS = "sheet,owner,unit,shoulder_to_elbow,shoulder_to_inner_elbow,inner_elbow_to_wrist"
TABLE = f"""{HEADS},upper_arm_girth,wrist_girth,cloth.width,cloth.name
ada,Ada L.,cm,33.8,31.9,23.6,28.6 | 28.4 | 28.6,15.8,140,canvas
bea,"Bea <b>",cm,34.5,32.4,24,31,16.5,140,canvas
carl,=1+1,cm,34.5,32.4,24,3100,16.5,140,canvas
dora,Dora,cm,32.5,30.7,23,26,15,90,silk
"""
VALUES = {figure.key: 0.5 * figure.limit for figure in FIGURES}


def write_table(folder: Path, text: str = TABLE) -> Path:
    path = folder / "class.csv"
    path.write_text(text, "utf8")
    return path


@lru_cache
def square_pieces() -> tuple[FinishedPiece, ...]:
    """Two plain pieces, ready to cut."""
    pieces = (square(300.0), replace(square(120.0), name="small square"))
    return finish(pieces, own_sheet(), arm="both")


def make_squares(task: Task) -> Made:
    """Write a small folder with two square pieces; every figure at half its limit."""
    sheet = task.order.sheet
    assert sheet is not None
    made = Made(
        task.order.name, task.order.source, key=task.key, owner=sheet.owner, unit=sheet.unit,
        verdict="Square.", is_within=True, figures=VALUES, cloth=sheet.cloth.name,
        cloth_width=sheet.cloth.width, cloth_length=600.0, pages=7, warnings=("look again",),
        outlines=(((0.0, 0.0), (100.0, 0.0), (50.0, 400.0)),),
    )  # fmt: skip
    files = {"report.html": f"<p>{task.key}", CUT_SHAPES: shapes_json(square_pieces())}
    return write_made(task, made, files)


def make_outside(task: Task) -> Made:
    """The same with one figure beyond its limit."""
    figure = FIGURES[0]
    beyond = {**VALUES, figure.key: 2.0 * figure.limit}
    return replace(make_squares(task), is_within=False, figures=beyond)


def end_bea(task: Task) -> Made:
    """Die without a word on one of the sheets."""
    if task.order.name == "bea":
        os.kill(os.getpid(), signal.SIGKILL)
    return make_squares(task)


def make_slowly(task: Task) -> Made:
    """Take a while, and for the last one ever so long, so that a run can be ended half-way."""
    time.sleep(60.0 if task.order.name == "dora" else 0.4)
    return make_squares(task)


def make_ada_alone(task: Task) -> Made:
    """Come to no end with any other sheet."""
    if task.order.name != "ada":
        time.sleep(60.0)
    return make_squares(task)


def refuse(task: Task) -> Made:
    """Nothing is to be made any more."""
    raise UnrollError(f"{task.order.name} was asked for again")
