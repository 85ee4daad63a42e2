"""What workers have from their start: loaded once, by the process that they are forked from."""

import gc
from importlib import import_module

from unroll.undocumented import undocumented

gc.disable()  # before a fork, as the documentation of `gc` advises: pages stay shared
with undocumented():
    import_module("unroll.job")
gc.freeze()
gc.enable()
