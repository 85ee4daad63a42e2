"""What workers have from their start: loaded once, by the process that they are forked from."""

import gc
from importlib import import_module

gc.disable()  # before a fork, as the documentation of `gc` advises: pages stay shared
import_module("unroll.job")
gc.freeze()
gc.enable()
