"""Deeds of a survey: begin it, write down what is found and read, say what was not seen, finish it."""

from .drafts import forget_draft, keep_draft
from .findings import add_finding, change_finding, facts_of, put_back, take_back
from .known import KNOWN, known_of, write_known
from .looks import say_look
from .readings import BeyondPossible, add_reading, take_back_reading
from .verdicts import say_of_earlier
from .whole import begin_survey, finish_survey

__all__ = [
    "KNOWN",
    "BeyondPossible",
    "add_finding",
    "add_reading",
    "begin_survey",
    "change_finding",
    "facts_of",
    "finish_survey",
    "forget_draft",
    "keep_draft",
    "known_of",
    "put_back",
    "say_look",
    "say_of_earlier",
    "take_back",
    "take_back_reading",
    "write_known",
]
