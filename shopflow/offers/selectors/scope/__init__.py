"""What to do for this money, for one instrument: its open findings, what mends them, and the best set.

`weighing`: all that is read, once; `choices`: the same as a question of choice; `answer`: what came out,
ready to be shown; `later`: now against later. A choice is named "finding:remedy" by their keys, a wish
about a finding alone by the finding's key.
"""

from .answer import Answer, answer
from .choices import Asked, TooLittle, Wishes, WishesClash, asked
from .weighing import Weighing

__all__ = ["Answer", "Asked", "TooLittle", "Weighing", "Wishes", "WishesClash", "answer", "asked"]
