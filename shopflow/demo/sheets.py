"""Bench sheets of the demo: one half filled this week at each bench, air of two rooms, a rest prolonged."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import timedelta

from django.utils import timezone

from shopflow.catalogue.models import Department, ReadingKind, Stage, Units
from shopflow.catalogue.selectors import the_shop
from shopflow.catalogue.services import stages as stages_service
from shopflow.common import clock
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.readings.measures import PERCENT, TEMPERATURE, quantity_of, read_measure
from shopflow.readings.selectors.which import cautions_of
from shopflow.readings.services import air, cautions, cures, sheets
from shopflow.readings.sheets import SHEETS
from shopflow.workshop.models import Task
from shopflow.workshop.services.taps import Answer

AIR_DAYS = 42
ROOMS = {"Booth": (20.5, 52.0), "Soundboard room": (22.0, 41.0)}


@dataclass(frozen=True, slots=True)
class Read:
    """A reading (its kind, when in the work, where, what) and the work on whose sheet it belongs."""

    code: str
    phase: str
    place: str
    typed: str
    operations: str

    def belongs(self, task: Task) -> bool:
        return _code(task) in self.operations.split() and self.phase in _phases(task)


@dataclass(frozen=True, slots=True)
class Sum:
    """Something worked out (its code, what was typed) and the work on whose sheet it belongs."""

    code: str
    typed: dict[str, str]
    operations: str

    def belongs(self, task: Task) -> bool:
        return _code(task) in self.operations.split()


@dataclass(frozen=True, slots=True)
class Filled:
    """What may stand on a sheet of one kind."""

    readings: tuple[Read, ...] = ()
    sums: tuple[Sum, ...] = field(default=())

    @property
    def operations(self) -> set[str]:
        belonging = [row.operations for row in self.readings] + [row.operations for row in self.sums]
        return {code for codes in belonging for code in codes.split()}


AIR_NOW = {"air": "typed", "temp_c": "20,5", "rh": "54", "surface_c": "17,5"}
AIR_NOW |= {"margin_c": "3", "highest_rh": "85"}
FILM = {"dry_um": "120", "wet_um": "100", "volume_solids_percent": "25", "rubbed_um": "20", "laid": "3"}
MIX = {"total_ml": "800", "base": "4", "hardener": "1", "thinner": "0,5"}
RACK = "pedals: 230 x 60 x 6\nhinge, long: 1400 x 30 x 2\nlid knobs: 40 x 40 x 4"
TIME = {"deposit": "nickel", "area_cm2": "1732", "current_a": "60", "efficiency_percent": "95"}
TIME |= {"thickness_um": "12", "minutes": "10"}
LIFT = {"horizontal_mm": "35", "vertical_mm": "80", "end_vertical_mm": "110", "hours": "1", "grip": "fair"}
PANEL = {"width_mm": "1380", "species": "spruce, Sitka", "direction": "radial", "from_percent": "5,8"}
PANEL |= {"dry_temp_c": "21", "dry_rh": "30", "damp_temp_c": "22", "damp_rh": "62"}
RAISE = {"full_tension_n": "163000", "from_cents": "-38", "aims_cents": "8 0"}
ON_CASE = "build-lacquer build-polyester clear-coats"
COATS = f"{ON_CASE} french-polish touch-up board-finish plate-refinish"
CRACKS = "crack-shim crack-fill"
DRIED = "board-dry crack-shim rib-reglue board-edge"
DRAWN_UP = "pitch-raise chip settle-tune shop-tune"
CENTRES = "centres-repin shanks-new wippens-renew hammers-hang damper-action"
FILLED = {
    "finishing": Filled(
        (
            Read("wet-film", "during", "lid, coat 3", "95", ON_CASE),
            Read("wet-film", "during", "sides, coat 3", "105", ON_CASE),
        ),
        (Sum("may-coat", AIR_NOW, COATS), Sum("film-build", FILM, ON_CASE), Sum("mixing", MIX, COATS)),
    ),
    "plating": Filled(
        (
            Read("bath-temperature", "during", "nickel", "52", "plating-shop"),
            Read("bath-current", "during", "nickel, rack 2", "25", "plating-shop"),
        ),
        (
            Sum("plating-area", {"parts": RACK}, "hw-inventory hw-prep plating-shop plating-sendout"),
            Sum("plating-time", TIME, "plating-shop"),
        ),
    ),
    "lifting": Filled(
        (
            Read("load-weight", "before", "plate, crane scale", "136", "plate-out plate-in"),
            Read("load-weight", "before", "action with its keys", "31", "assemble"),
        ),
        (
            Sum("lift", {"load_kg": "136", **LIFT}, "plate-out plate-in"),
            Sum("lift", {"load_kg": "31", **LIFT}, "assemble"),
        ),
    ),
    "soundboard": Filled(
        (
            Read("wood-moisture", "before", "treble, middle", "8,1", DRIED),
            Read("crown", "before", "rib 6", "3,5", f"{DRIED} bearing-set"),
            Read("crack-length", "before", "crack 1", "240", CRACKS),
            Read("crack-open", "before", "crack 1", "0,4", CRACKS),
            Read("wood-moisture", "after", "treble, middle", "6,0", DRIED),
        ),
        (
            Sum("shim", {"temp_c": "33", "rh": "27"}, "crack-shim"),
            Sum("panel", PANEL, "board-replace crack-shim"),
            Sum("crown", {"chord_mm": "1200", "rise_mm": "3,5"}, f"{DRIED} bearing-set"),
        ),
    ),
    "strings": Filled(
        (
            Read("pitch-offset", "before", "A4", "-38", DRAWN_UP),
            Read("pin-torque", "before", "tenor, pin 3", "7,2", "pins-oversize pins-ca-all pitch-raise"),
            Read("pin-torque", "before", "treble, pin 2", "4,1", "pins-oversize pins-ca-all pitch-raise"),
            Read("coil-height", "during", "tenor", "4,8", "string-treble"),
        ),
        (Sum("pitch-raise", RAISE, DRAWN_UP),),
    ),
    "action": Filled(
        (
            Read("centre-swings", "before", "note 40", "1", CENTRES),
            Read("centre-swings", "after", "note 40", "5", CENTRES),
            Read("key-side-play", "before", "note 44", "0,5", "keys-rebush keys-clean"),
            Read("key-side-play", "after", "note 44", "0,15", "keys-rebush"),
        ),
        (
            Sum(
                "lead", {"lower_by_g": "6", "lead_at_mm": "130", "felt_at_mm": "210"}, "touch-weigh key-leads"
            ),
        ),
    ),
}


def _code(task: Task) -> str:
    return task.operation.code if task.operation else ""


def _phases(task: Task) -> set[str]:
    """What can have been read so far: nothing is read after work that has only begun."""
    begun = task.path.index(task.stage_id)
    return {"before"} | ({"during"} if begun >= 1 else set()) | ({"after"} if begun >= 2 else set())


def fill_sheets(*, rng: random.Random, by: Person) -> None:
    """Through the services that the benches use, each at a moment of the last days."""
    _log_the_air(rng, by)
    for department in Department.objects.in_use():
        hand = Person.objects.working().filter(home=department).order_by("pk").first()
        task = _task_at(department)
        if hand and task:
            _fill(task, hand, rng)
    _fill_a_lift(rng)
    _ask_for_readings(by)


def _fill_a_lift(rng: random.Random) -> None:
    """Where a plate waits to be lifted next, somebody has looked at it beforehand."""
    lifts = Task.objects.open().filter(operation__sheet="lifting", operation__cautions__code="plate")
    task = lifts.filter(sheets=None).select_related("operation", "stage", "instrument").first()
    hand = task and Person.objects.working().filter(home=task.department_id).order_by("pk").first()
    if task and hand:
        _fill(task, hand, rng)


def _task_at(department: Department) -> Task | None:
    """Work under way on whose sheet something belongs, the latest taken first; else the next on the rack."""
    suited = set().union(*(filled.operations for filled in FILLED.values()))
    open_ones = Task.objects.open().filter(department=department, instrument__left_on=None)
    with_sheet = (
        open_ones.exclude(operation__sheet="")
        .filter(operation__code__in=suited)
        .select_related("operation", "stage", "instrument")
    )
    begun = with_sheet.exclude(stage__kind=Stage.Kind.RACKED)
    benched = begun.filter(stage__kind=Stage.Kind.BENCHED).order_by("-stage_since").first()
    on_the_rack = with_sheet.exclude(instrument__arrived_on=None).order_by(
        "instrument__arrived_on", "position"
    )
    return benched or begun.order_by("-stage_since").first() or on_the_rack.first()


def _fill(task: Task, hand: Person, rng: random.Random) -> None:
    """Read an hour ago at most as long as it stands where it stands, so that a stage's wish is fulfilled."""
    kind = task.operation.sheet if task.operation else ""
    filled = FILLED[kind]
    moment = max(task.stage_since, clock.now() - timedelta(hours=5)) + timedelta(minutes=2)
    with clock.at(min(moment, clock.now())):
        warned = cautions_of(task, SHEETS[kind])
        cautions.see_cautions(task=task, cautions=warned, by=hand, tap=_tap(rng, hand))
    for read in filter(lambda row: row.belongs(task), filled.readings):
        moment += timedelta(minutes=3)
        with clock.at(min(moment, clock.now())):
            _well(_read(task, kind, read, hand, rng))
    for worked_out in filter(lambda row: row.belongs(task), filled.sums):
        moment += timedelta(minutes=4)
        with clock.at(min(moment, clock.now())):
            _well(_work_out(task, kind, worked_out.code, worked_out.typed, hand, rng))
    if kind == "finishing" and task.least_rest_hours:
        _prolong(task, hand, rng)


def _prolong(task: Task, hand: Person, rng: random.Random) -> None:
    """A cold room: half as long again as the catalogue's least."""
    hours = float(task.least_rest_hours) * 1.5
    basis = "sheet of the lacquer, cold room"
    _well(cures.set_cure(task_id=task.pk, hours=hours, basis=basis, by=hand, tap=_tap(rng, hand)))


def _read(task: Task, sheet: str, read: Read, by: Person, rng: random.Random) -> Answer:
    kind = ReadingKind.objects.get(code=read.code)
    measure = read_measure(read.typed, quantity_of(kind), Units.METRIC)
    return sheets.take_reading(
        task_id=task.pk, sheet=sheet, kind=kind, measure=measure, phase=read.phase, place=read.place, by=by,
        tap=_tap(rng, by),
    )  # fmt: skip


def _work_out(
    task: Task, sheet: str, code: str, typed: dict[str, str], by: Person, rng: random.Random
) -> Answer:
    of = SHEETS[sheet].sums[code]
    form = of.form(typed, units=the_shop().units)
    if not form.is_valid():
        raise RuntimeError(f"the demo typed nonsense into {code}: {form.errors}")
    return sheets.compute(
        task_id=task.pk, sheet=sheet, of=of, typed=form.typed, given=form.given, by=by, tap=_tap(rng, by)
    )


def _log_the_air(rng: random.Random, by: Person) -> None:
    """Each room every open morning, drier as the heating season goes on."""
    now = timezone.localtime(clock.now())
    for back in range(AIR_DAYS, -1, -1):
        at = (now - timedelta(days=back)).replace(hour=8, minute=10 + rng.randrange(30))
        if at.weekday() >= 5 or at > now:
            continue
        for room, (usual_t, usual_rh) in ROOMS.items():
            with clock.at(at):
                _well(_note(room, usual_t, usual_rh + back * 0.18, rng, by))


def _note(room: str, temp: float, rh: float, rng: random.Random, by: Person) -> Answer:
    typed_t, typed_rh = f"{temp + rng.uniform(-1.2, 1.2):.1f}", f"{rh + rng.uniform(-3, 3):.0f}"
    return air.note_air(
        room=room,
        temperature=read_measure(typed_t, TEMPERATURE, Units.METRIC),
        humidity=read_measure(typed_rh, PERCENT, Units.METRIC),
        by=by,
        tap=_tap(rng, by),
    )


def _ask_for_readings(by: Person) -> None:
    """From now on the build of a film is not left without a reading."""
    stage = Stage.objects.filter(department__code="refinishing", code="built-up").first()
    if stage:
        stages_service.change_stage(
            stage=stage,
            name=stage.name,
            kind=stage.kind,
            needs_photo=stage.needs_photo,
            needs_reading=True,
            needs_second_eyes=stage.needs_second_eyes,
            cautions=stage.cautions.all(),
            by=by,
        )


def _tap(rng: random.Random, by: Person) -> TapIn:
    return TapIn.of(key=f"{rng.getrandbits(128):032x}", by=by, tapped_at=clock.now())


def _well(answer: Answer) -> None:
    if answer.status != 200:
        raise RuntimeError(f"the demo's sheet was refused: {answer.said}")
