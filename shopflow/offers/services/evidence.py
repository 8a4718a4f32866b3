"""The ticks of the final check list against what is there: a tick without it is refused, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.offers.handover_words import Check
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.selectors.stay import stay_of
from shopflow.workshop.services.final_check import NEW_FINISH, Lacking, lacking, was_left

Said = Mapping[str, Mapping[str, str]]
YES, NONE = "yes", "none"
SAMPLE = Check("sample", "The new finish is as the sample that was signed")


class TickWithout(Refused):
    """A line was ticked and nothing is there to show for it."""

    def __init__(self, without: Iterable[Lacking]) -> None:
        self.without = list(without)
        told = " ".join(dict.fromkeys(one.words for one in self.without))
        super().__init__(f"A tick alone will not do. {told}")

    @property
    def lines(self) -> set[str]:
        return {one.line for one in self.without}


def refuse_ticks(instrument: Instrument, said: Said, *, by: Person) -> None:
    """A manager may say of a line that it does not apply, with a word why; nobody may say yes."""
    ticked = {code for code, verdict in said.items() if verdict.get("state") in {YES, NONE}}
    excused = {code for code in ticked if access.may(by, Deed.OVERRIDE) and is_excused(said[code])}
    without = [one for one in lacking(instrument) if one.line in ticked - excused]
    if without:
        raise TickWithout(without)


def is_excused(verdict: Mapping[str, str]) -> bool:
    return verdict.get("state") == NONE and bool(verdict.get("note", "").strip())


def still_lacking(instrument: Instrument, said: Said) -> list[Lacking]:
    """What a list that was signed rests on no more: a photo put aside, a part gone missing since."""
    return [one for one in lacking(instrument) if not is_excused(said.get(one.line, {}))]


def lines_of_this_work(instrument: Instrument) -> list[Check]:
    """Lines that only some work asks for."""
    return [SAMPLE] if was_left(stay_of(instrument), *NEW_FINISH) else []
