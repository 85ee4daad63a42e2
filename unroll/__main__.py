"""Run the commands with `python -m unroll`."""

from unroll.cli import main

main()
