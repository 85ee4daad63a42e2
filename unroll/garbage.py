"""How often Python looks through what it holds for what nobody needs any more."""

import gc

# Libraries make some hundred thousand objects that stay: they need not be looked through often.
SELDOM = 50_000, 20, 10


def look_seldom() -> None:
    """Have Python look through what it holds seldom."""
    gc.set_threshold(*SELDOM)
