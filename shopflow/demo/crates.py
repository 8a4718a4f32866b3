"""Crates of the demo: packed, at benches, at the plater's, one part short; and numbers on photos."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from datetime import datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from shopflow.catalogue.models import Department
from shopflow.common import clock
from shopflow.instruments.models import Crate, CrateLine, CrateMove, Instrument
from shopflow.instruments.selectors.crates import missing_of
from shopflow.instruments.services import crates
from shopflow.instruments.services.crates import Part
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.photos import services as photos
from shopflow.photos.models import Photo
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.parts import PUTS_TOGETHER
from shopflow.workshop.services.parts import missing_part_snag

from .laid_out import CRACKS, HARDWARE, RIBS, hardware, soundboard

PLATER = "Tidewater Plating, outside"
MOST_PIANOS = 9
ACTION = (Part("hammers", 88), Part("damper heads", 69), Part("action screws", 14))
KEYS = (Part("keys", 88), Part("key frame punchings, bag", 1), Part("key lock rail", 1))
CASE = (Part("lid", 1), Part("fall", 1), Part("music desk", 1), Part("cheek blocks", 2))
LEGS = (Part("legs", 3), Part("lyre with rods", 1))


def pack_crates(*, rng: random.Random, people: Sequence[Person]) -> None:
    """Pianos that are in pieces get their crates; three of them tell a story of hardware."""
    packer = _Packer(rng, {person.sign_in_name: person for person in people})
    apart = _apart()
    for instrument in apart[:MOST_PIANOS]:
        packer.case_and_action(instrument)
    tales = [packer.one_missing, packer.at_the_platers, packer.back_and_whole]
    for tell, instrument in zip(tales, _with_hardware(apart), strict=False):
        tell(instrument)
    for instrument in apart[:1]:
        packer.number_cracks(instrument)


def _apart() -> list[Instrument]:
    """In the house, taken apart, and not put together yet; those with the most open work first."""
    apart = Task.objects.signed().filter(operation__code__in=["case-strip", "action-out"])
    here = Instrument.objects.in_the_house().filter(pk__in=apart.values("instrument"), finished_on=None)
    together = Task.objects.signed().filter(operation__code="assemble").values("instrument")
    return list(here.exclude(pk__in=together).order_by("arrived_on", "number"))


def _with_hardware(apart: list[Instrument]) -> list[Instrument]:
    """First those that still have to be put together: there a missing part hurts."""
    open_work = (
        Task.objects.open().filter(operation__code__in=PUTS_TOGETHER).values_list("instrument_id", flat=True)
    )
    waits = set(open_work)
    return sorted(apart, key=lambda instrument: instrument.pk not in waits)


class _Packer:
    def __init__(self, rng: random.Random, people: dict[str, Person]) -> None:
        self.rng, self.people = rng, people
        self.benches = {department.code: department for department in Department.objects.in_use()}

    def tap(self, by: Person) -> TapIn:
        return TapIn.of(key=f"{self.rng.getrandbits(128):032x}", by=by, tapped_at=clock.now())

    def ago(self, instrument: Instrument, days: int) -> datetime:
        """So many days ago, but not before the piano was in the house for a day."""
        arrived = instrument.arrived_on or clock.today()
        day = clock.today() - timedelta(days=max(1, min(days, (clock.today() - arrived).days - 1)))
        # Nobody packs on a Saturday or a Sunday.
        day -= timedelta(days=max(0, day.weekday() - 4))
        worked = time(9 + self.rng.randint(0, 6), self.rng.randint(0, 59))
        return datetime.combine(day, worked, tzinfo=timezone.get_current_timezone())

    def case_and_action(self, instrument: Instrument) -> None:
        """Case parts in the rack hall, action and keys where they are worked on."""
        wilhelmina, ansel = self.people["wilhelmina"], self.people["ansel"]
        case = (*CASE, *LEGS) if instrument.kind == "grand" else CASE
        with clock.at(self.ago(instrument, self.rng.randint(20, 40))):
            self._crate(
                instrument, "case", case, wilhelmina, place=f"rack hall, bay {self.rng.randint(1, 6)}"
            )
            self._crate(instrument, "action", ACTION, ansel, at="action", place="cabinet 2")
            self._crate(instrument, "keys", KEYS, ansel, at="action", place=f"shelf {self.rng.randint(1, 9)}")

    def at_the_platers(self, instrument: Instrument) -> None:
        """Everything laid out, numbered and counted out; nothing is back."""
        box = self._hardware(instrument, days=9)
        with clock.at(self.ago(instrument, 6)):
            self._out(box)

    def one_missing(self, instrument: Instrument) -> None:
        """Back from the plater but for one hinge, which stops the work that needs it."""
        box = self._hardware(instrument, days=24)
        with clock.at(self.ago(instrument, 16)):
            sent = self._out(box)
        with clock.at(self.ago(instrument, 2)):
            back = {line.pk: line.count - (line.name == "lid hinges") for line in box.lines.all()}
            self._signed(crates.count_in, box, counts=back, seen=sent.pk)
            self._stop(instrument)

    def back_and_whole(self, instrument: Instrument) -> None:
        box = self._hardware(instrument, days=30)
        with clock.at(self.ago(instrument, 21)):
            sent = self._out(box)
        with clock.at(self.ago(instrument, 5)):
            back = {line.pk: line.count for line in box.lines.all()}
            self._signed(crates.count_in, box, counts=back, seen=sent.pk)
            bench = self.benches.get("final")
            pia = self.people["pia"]
            crates.move_crate(
                crate=box, department=bench, place="shelf by the door", by=pia, tap=self.tap(pia)
            )

    def number_cracks(self, instrument: Instrument) -> None:
        """Cracks and ribs, as the soundboard bench numbers them before anything is mended."""
        bram = self.people["bram"]
        with clock.at(self.ago(instrument, 12)):
            photo = self._photo(instrument, soundboard, "Soundboard, cracks and ribs", bram)
            for x, y, length in CRACKS:
                self._mark(photo, "crack", x, y, bram, length_mm=Decimal(length), words="through the board")
            for x, y in RIBS:
                self._mark(photo, "rib", x, y, bram, words="let go over a hand’s width")

    def _hardware(self, instrument: Instrument, *, days: int) -> Crate:
        pia = self.people["pia"]
        with clock.at(self.ago(instrument, days)):
            parts = [Part(name, count) for name, count, *_ in HARDWARE]
            box = self._crate(instrument, "hardware", parts, pia, at="plating", place="bench 1")
            photo = self._photo(instrument, hardware, "Hardware laid out", pia)
            for line, (_, _, x, y, _) in zip(box.lines.all(), HARDWARE, strict=True):
                at = photos.Spot(x, y - 0.05)
                photos.put_part(photo=photo, line=line, at=at, by=pia, tap=self.tap(pia))
        return box

    def _photo(
        self, instrument: Instrument, drawn: Callable[[str, random.Random], bytes], caption: str, by: Person
    ) -> Photo:
        """With its copies made at once: a photo has to be seen before it can be numbered."""
        content = drawn(f"{instrument.number} · {caption}", self.rng)
        file = SimpleUploadedFile(f"{instrument.number}.jpg", content, "image/jpeg")
        return photos.make_copies(
            photos.add_photo(instrument=instrument, file=file, role=Photo.Role.BEFORE, caption=caption, by=by)
        )

    def _mark(self, photo: Photo, kind: str, x: float, y: float, by: Person, **said: Any) -> None:
        photos.put_mark(photo=photo, kind=kind, at=photos.Spot(x, y), by=by, tap=self.tap(by), **said)

    def _crate(
        self,
        instrument: Instrument,
        set_name: str,
        parts: Sequence[Part],
        by: Person,
        *,
        at: str = "",
        place: str = "",
    ) -> Crate:
        return crates.make_crate(
            instrument=instrument,
            set_name=set_name,
            parts=parts,
            department=self.benches.get(at),
            place=place,
            by=by,
            tap=self.tap(by),
        )

    def _out(self, box: Crate) -> CrateMove:
        counts = {line.pk: line.count for line in box.lines.all()}
        return self._signed(crates.count_out, box, counts=counts, to=PLATER, seen=0)

    def _signed(self, deed: Callable[..., CrateMove], box: Crate, **said: object) -> CrateMove:
        pia = self.people["pia"]
        return deed(crate=box, by=pia, second=self.people["greta"], tap=self.tap(pia), **said)

    def _stop(self, instrument: Instrument) -> None:
        tasks = Task.objects.open().filter(instrument=instrument, operation__code__in=PUTS_TOGETHER)
        task, gone = tasks.order_by("-position").first(), missing_of(instrument).missing
        if task is None or not gone:
            return
        line: CrateLine = gone[0].line
        pia = self.people["pia"]
        later = clock.today() + timedelta(days=4)
        missing_part_snag(line=line, task=task, ask_again_on=later, owner=pia, by=pia, tap=self.tap(pia))
