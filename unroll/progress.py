"""What is being done and how far it is; the one place where a run is cancelled."""

from __future__ import annotations

import threading
from collections.abc import Callable

from unroll.units import Unit, inches_first


class Cancelled(Exception):
    """The maker wants no more of this run. It is no fault of hers, and nothing swallows it."""


class Progress:
    """Told each step in a few words; a run that was cancelled ends at its next step.

    Parameters
    ----------
    show : callable, optional
        Is given each step and the share of the work that is done, 0 to 1.

    Attributes
    ----------
    unit : {"in", "cm", "mm"}
        In which lengths are told; a job sets its sheet's.

    Examples
    --------
    >>> progress = Progress(lambda step, share: print(f"{share:.0%} {step}"))
    >>> progress.reached(0.25)
    >>> progress("cutting")
    25% cutting
    >>> progress.cancel()
    >>> progress("sewing")
    Traceback (most recent call last):
    ...
    unroll.progress.Cancelled: cancelled before: sewing
    """

    def __init__(self, show: Callable[[str, float], None] | None = None) -> None:
        self._show = show
        self._cancelled = threading.Event()
        self._share = 0.0
        self.unit: Unit = "mm"

    def __call__(self, step: str) -> None:
        """Tell the next step.

        Raises
        ------
        Cancelled
            When the run was cancelled.
        """
        if self._cancelled.is_set():
            raise Cancelled(f"cancelled before: {step}")
        if self._show is not None:
            self._show(inches_first(step, self.unit), self._share)

    def pause(self, seconds: float) -> None:
        """Wait, unless the run is cancelled meanwhile.

        Raises
        ------
        Cancelled
            When it was.
        """
        if self._cancelled.wait(seconds):
            raise Cancelled("cancelled while it waited")

    def reached(self, share: float) -> None:
        """Say how much of the work is done, 0 to 1; it never goes back."""
        self._share = max(self._share, min(share, 1.0))

    def cancel(self) -> None:
        """Ask the run to end; from any thread."""
        self._cancelled.set()
