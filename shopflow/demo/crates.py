"""Crates of the demo: packed, at benches, at the plater's, one part short; and numbers on photos."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from shopflow.catalogue.models import Department, Stage
from shopflow.common import clock
from shopflow.instruments.models import Crate, CrateLine, CrateMove, Instrument
from shopflow.instruments.querysets import InstrumentQuerySet
from shopflow.instruments.selectors.crates import missing_of
from shopflow.instruments.services import crates
from shopflow.instruments.services.crates import Part
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.photos import services as photos
from shopflow.photos.models import Photo
from shopflow.workshop.models import Move, Task
from shopflow.workshop.querysets import TaskQuerySet
from shopflow.workshop.selectors.parts import PUTS_TOGETHER
from shopflow.workshop.services.parts import missing_part_snag

from .laid_out import CRACKS, HARDWARE, RIBS, hardware, soundboard

PLATER = "Tidewater Plating, outside"
MOST_PIANOS = 9
ACTION = {
    "grand": (Part("hammers", 88), Part("repetitions", 88), Part("stack screws", 14)),
    "upright": (Part("hammers", 88), Part("damper heads", 69), Part("action screws", 14)),
}
KEYS = (Part("keys", 88), Part("key frame punchings, bag", 1), Part("key lock rail", 1))
CASE = {
    "grand": (
        Part("lid", 1),
        Part("fall", 1),
        Part("music desk", 1),
        Part("cheek blocks", 2),
        Part("legs", 3),
        Part("lyre with rods", 1),
    ),
    "upright": (
        Part("top lid", 1),
        Part("upper door", 1),
        Part("lower door", 1),
        Part("fall", 1),
        Part("cheek blocks", 2),
    ),
}


def pack_crates(*, rng: random.Random, people: Sequence[Person]) -> None:
    """Pianos that are in pieces get their crates; three of them tell a story of hardware."""
    packer = _Packer(rng, {person.sign_in_name: person for person in people})
    for instrument in _apart()[:MOST_PIANOS]:
        packer.case_and_action(instrument)
    for task in _sent_out().filter(stage__code="away")[:1]:
        packer.at_the_platers(task)
    back = _sent_out().filter(stage__kind=Stage.Kind.SIGNED)
    stories = [packer.one_missing, packer.back_and_whole]
    for tell, task in zip(stories, sorted(back, key=_has_no_end_to_stop), strict=False):
        tell(task)
    for task in _cracks_to_mend()[:1]:
        packer.number_cracks(task)


def _house() -> InstrumentQuerySet:
    return Instrument.objects.in_the_house().filter(finished_on=None)


def _signed_at(instrument: Instrument, operation: str) -> datetime | None:
    task = Task.objects.signed().filter(instrument=instrument, operation__code=operation).first()
    return task.stage_since if task else None


def _apart() -> list[Instrument]:
    """Taken apart, and not put together yet; those that came first stand first."""
    apart = Task.objects.signed().filter(operation__code__in=["case-strip", "action-out"])
    together = Task.objects.signed().filter(operation__code__in=PUTS_TOGETHER).values("instrument")
    here = _house().filter(pk__in=apart.values("instrument")).exclude(pk__in=together)
    return list(here.order_by("arrived_on", "number"))


def _sent_out() -> TaskQuerySet:
    """Hardware that was sent to the plater, of pianos whose case is not on again."""
    whole = Task.objects.signed().filter(operation__code="case-on").values("instrument")
    tasks = Task.objects.in_the_job().filter(operation__code="plating-sendout", instrument__in=_house())
    return tasks.exclude(instrument__in=whole).select_related("instrument").order_by("-stage_since")


def _has_no_end_to_stop(task: Task) -> bool:
    """A missing part hurts where the piano still has to be put together."""
    ends = Task.objects.open().filter(instrument=task.instrument_id, operation__code__in=PUTS_TOGETHER)
    return not ends.exists()


def _cracks_to_mend() -> TaskQuerySet:
    """Cracks of a grand that are being mended or were, with the strings off: the picture is a grand's."""
    strung = Task.objects.signed().filter(operation__code="string-treble").values("instrument")
    bare = Task.objects.signed().filter(operation__code="strings-off").values("instrument")
    here = _house().filter(kind="grand", pk__in=bare).exclude(pk__in=strung)
    tasks = Task.objects.in_the_job().filter(operation__code="crack-shim", instrument__in=here)
    return tasks.select_related("instrument").order_by("pk")


class _Packer:
    def __init__(self, rng: random.Random, people: dict[str, Person]) -> None:
        self.rng, self.people = rng, people
        self.benches = {department.code: department for department in Department.objects.in_use()}

    def tap(self, by: Person) -> TapIn:
        return TapIn.of(key=f"{self.rng.getrandbits(128):032x}", by=by, tapped_at=clock.now())

    def later_on(self, moment: datetime | None) -> datetime:
        """Some minutes after a moment of the ledger; never in the future."""
        moment = moment or clock.now() - timedelta(hours=2)
        return min(moment + timedelta(minutes=self.rng.randint(2, 25)), clock.now())

    def case_and_action(self, instrument: Instrument) -> None:
        """Case parts in the rack hall, action and keys where they are worked on; packed as each came out."""
        wilhelmina, ansel = self.people["wilhelmina"], self.people["ansel"]
        if stripped := _signed_at(instrument, "case-strip"):
            with clock.at(self.later_on(stripped)):
                bay = f"rack hall, bay {self.rng.randint(1, 6)}"
                self._crate(instrument, "case", CASE[instrument.kind], wilhelmina, place=bay)
        if taken_out := _signed_at(instrument, "action-out"):
            with clock.at(self.later_on(taken_out)):
                action, shelf = ACTION[instrument.kind], f"shelf {self.rng.randint(1, 9)}"
                self._crate(instrument, "action", action, ansel, at="action", place="cabinet 2")
                self._crate(instrument, "keys", KEYS, ansel, at="action", place=shelf)

    def at_the_platers(self, task: Task) -> None:
        """Everything laid out, numbered and counted out; nothing is back."""
        self._sent(task)

    def one_missing(self, task: Task) -> None:
        """Back from the plater but for one hinge, which stops the work that needs it."""
        box, sent = self._sent(task)
        with clock.at(self.later_on(task.stage_since)):
            back = {line.pk: line.count - (line.name == "lid hinges") for line in box.lines.all()}
            self._signed(crates.count_in, box, counts=back, seen=sent.pk)
            self._stop(task.instrument)

    def back_and_whole(self, task: Task) -> None:
        box, sent = self._sent(task)
        with clock.at(self.later_on(task.stage_since)):
            back = {line.pk: line.count for line in box.lines.all()}
            self._signed(crates.count_in, box, counts=back, seen=sent.pk)
            bench = self.benches.get("final")
            pia = self.people["pia"]
            crates.move_crate(
                crate=box, department=bench, place="shelf by the door", by=pia, tap=self.tap(pia)
            )

    def number_cracks(self, task: Task) -> None:
        """Cracks and ribs, as the soundboard bench numbers them before anything is mended."""
        bram = self.people["bram"]
        with clock.at(self.later_on(_signed_at(task.instrument, "strings-off"))):
            photo = self._photo(task.instrument, soundboard, "Soundboard, cracks and ribs", bram)
            for x, y, length in CRACKS:
                self._mark(photo, "crack", x, y, bram, length_mm=Decimal(length), words="through the board")
            for x, y in RIBS:
                self._mark(photo, "rib", x, y, bram, words="let go over a hand’s width")

    def _sent(self, task: Task) -> tuple[Crate, CrateMove]:
        """Counted as the ledger counts it, and out when it went out."""
        box = self._hardware(task.instrument)
        gone = Move.objects.filter(task=task, target__code="away").order_by("-pk").first()
        with clock.at(self.later_on(gone.recorded_at if gone else None)):
            return box, self._out(box)

    def _hardware(self, instrument: Instrument) -> Crate:
        pia, laid = self.people["pia"], HARDWARE[instrument.kind]
        with clock.at(self.later_on(_signed_at(instrument, "hw-inventory"))):
            parts = [Part(name, count) for name, count, *_ in laid]
            box = self._crate(instrument, "hardware", parts, pia, at="plating", place="bench 1")
            draw = partial(hardware, kind=instrument.kind)
            photo = self._photo(instrument, draw, "Hardware laid out", pia)
            for line, (_, _, x, y, _) in zip(box.lines.all(), laid, strict=True):
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
