"""How far does the sewn and filled arm stand off the arm that was measured?"""

from unroll.standing_off.measuring_off import stand_off
from unroll.standing_off.wording import plain_words

__all__ = ["plain_words", "stand_off"]
