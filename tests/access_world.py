"""The small shop in which every address is tried: what stands in its addresses, and what its forms are sent.

Adding a page? Give its address a row in access_matrix.csv: the test prints what it saw, for you to judge and
paste. If the address names something of the shop, say which one in `ARGUMENTS`. If an empty form would be
refused before the question "may this person?" is asked, put a form into `FORMS` that would be taken.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.test import Client

from shopflow.catalogue.models import (
    Caution,
    ComponentGroup,
    FindingKind,
    Kind,
    MaterialBand,
    ReadingKind,
    Remedy,
    Rest,
    Route,
    RouteStep,
    StateLine,
    StepLine,
)
from shopflow.catalogue.services.version import catalogue_changed
from shopflow.common import clock
from shopflow.compute.calendar import IsoWeek
from shopflow.customers.models import Customer, PrivateLink
from shopflow.customers.services import links
from shopflow.instruments.models import Finding, Survey
from shopflow.instruments.services import crates
from shopflow.instruments.services.survey import add_reading
from shopflow.offers.selectors.report import report_of
from shopflow.offers.services import approving, changes, handovers, leaving, offers, sending
from shopflow.people.edits import mark_of
from shopflow.photos.models import Photo
from shopflow.photos.services import Spot, add_photo, facts_of, make_copies, put_mark, put_part
from shopflow.planning.measures import HoldBack, LetGoOn
from shopflow.planning.measures import to_data as measures_to_data
from shopflow.planning.models import ClosedDay, Hold, Leave, PartOnOrder, Plan, PlanLine, ScarceThing
from shopflow.readings.models import BenchSheet, Reading
from shopflow.readings.services import scale as scales
from shopflow.readings.services import touch
from shopflow.reports.models import WeeklyReport
from shopflow.reports.selectors.week import week_figures
from shopflow.workshop.services import hours, snags
from shopflow.workshop.services.bringing import keeping, writing
from tests import cast
from tests.instruments import survey_cast
from tests.photos import pictures
from tests.readings import scale_cast

# No page of a bench may show any of these.
PRIVATE = ("Perdita Vane-Quist", "perdita@private.example", "0199 555 0142", "17 Lantern Steps")

Form = dict[str, Any]


class World:
    """Refinishing with its hand and two tasks, one stopped; Action with its hand; the office; a stranger."""

    def __init__(self) -> None:
        self.shop = cast.shop()
        self.bench, self.other_bench = cast.department(), cast.department("action")
        self.people = {
            "stranger": cast.stranger(),
            "hand": cast.finisher(home=self.bench),
            "other hand": cast.person("Ada Lund", home=self.other_bench),
            "manager": cast.manager(),
            "manager by PIN": cast.manager("Nell Harker"),
            "owner": cast.owner(),
        }
        self.someone = cast.person("Bea Cole", home=self.bench)
        self.tablet = cast.tablet()
        self._work()
        self._survey()
        self._sheet()
        self._scales()
        self._set_up()
        self._list()
        self._came_to_light()
        self._offers()
        # Much of it was written past Set-up, whose deeds would have said so.
        catalogue_changed()

    def _work(self) -> None:
        manager = self.people["manager"]
        name, email, phone, address = PRIVATE
        self.customer = Customer.objects.create(name=name, email=email, phone=phone, address=address)
        self.instrument = cast.instrument(by=manager, customer=self.customer, number="214")
        self.task, self.stopped = (
            cast.task(cast.operation(code, at=self.bench), on=self.instrument, by=manager)
            for code in ("strip", "mend")
        )
        cast.send(self.task, "stripped", by=self.people["hand"])
        self.task.refresh_from_db()
        self.other_instrument = cast.instrument(by=manager, number="215")
        self.other_task = cast.task(self.stopped.operation, on=self.other_instrument, by=manager)
        self.photo = make_copies(self._photo())
        self.private_link = links.make(instrument=self.instrument, by=manager)
        self._crates()
        self._marks()
        self.hours = hours.enter_hours(task=self.task, hours=Decimal("1.5"), by=self.people["hand"])
        self.snag = snags.raise_snag(
            task=self.stopped,
            cause="part",
            reason="two hinges missing",
            ask_again_on=clock.today(),
            by=manager,
            owner=manager,
        )

    def _sheet(self) -> None:
        type(self.task.operation).objects.filter(pk=self.task.operation_id).update(sheet="finishing")
        gloss = ReadingKind.objects.create(code="gloss", name="Gloss", unit="GU")
        sheet = BenchSheet.objects.create(task=self.task, kind="finishing", opened_by=self.people["hand"])
        self.reading = Reading.objects.create(
            sheet=sheet, kind=gloss, typed="80", unit="GU", value=80, by=self.people["hand"]
        )

    def _scales(self) -> None:
        """Two scales with a wound and a plain note each, and what the action is regulated to."""
        manager = self.people["manager"]
        self.scale, self.other_scale = (
            scales.start_scale(
                instrument=self.instrument, by=manager, facts=scale_cast.FACTS | {"kind": kind}
            )
            for kind in ("found", "proposed")
        )
        touch.begin_values(instrument=self.instrument, by=manager)
        for scale in (self.scale, self.other_scale):
            scales.put_table(
                scale=scale,
                drafts=[scale_cast.bass()[0], scale_cast.treble()[0]],
                seen_version=scale.version,
                by=manager,
            )

    def _crates(self) -> None:
        """A crate of which one part did not come back, and one part of it that did."""
        hand, manager = self.people["hand"], self.people["manager"]
        self.crate = cast.crate(self.instrument, by=hand, holds="2 × lid hinges, 1 × lock", number=31)
        self.missing, self.lock = self.crate.lines.all()
        signed = {"crate": self.crate, "by": hand, "second": manager}
        sent = crates.count_out(
            **signed, counts={self.missing.pk: 2}, to="the plater", tap=cast.tap(hand), seen=0
        )
        crates.count_in(**signed, counts={self.missing.pk: 1}, tap=cast.tap(hand), seen=sent.pk)

    def _marks(self) -> None:
        """A crack on the photo, and the part that is missing."""
        hand = self.people["hand"]
        common = {"photo": self.photo, "at": Spot(0.5, 0.5), "by": hand}
        self.mark = put_mark(kind="crack", tap=cast.tap(hand), **common)
        put_part(line=self.missing, tap=cast.tap(hand), **common)

    def _counting(self) -> int:
        return self.crate.moves.last().pk

    def _photo(self) -> Photo:
        return add_photo(
            instrument=self.instrument,
            file=pictures.file(pictures.jpeg()),
            role=Photo.Role.FOUND,
            caption="lid",
            by=self.people["hand"],
        )

    def _survey(self) -> None:
        hand = self.people["hand"]
        first = survey_cast.begin(self.instrument, by=hand)
        self.earlier = survey_cast.crack(first, by=hand)
        self.survey = survey_cast.second(self.instrument, by=hand)
        self.finding = survey_cast.crack(self.survey, by=hand)
        self.survey_reading = add_reading(
            survey=self.survey,
            kind=survey_cast.part().reading_kinds.get(),
            typed=Decimal(3),
            units="metric",
            by=hand,
        )

    def _set_up(self) -> None:
        route = Route.objects.create(code="U2", name="Upright, usual way", kind=Kind.UPRIGHT)
        self.step = RouteStep.objects.create(route=route, operation=self.task.operation, position=1)
        self.caution = Caution.objects.create(code="solvents", title="Solvents", text="Air the room.")
        self.rest = Rest.objects.create(
            code="film", name="film hardens", hours_low=24, hours_likely=72, hours_high=240, basis="example"
        )
        said = {"levels": ["off", "on"], "say": ["the lid off", "the lid on"], "found": "on", "goal": "on"}
        self.line = StateLine.objects.create(code="lid", name="lid", **said)
        self.work_steps = StepLine.objects.create(code="lid", name="lid", steps=["hinge", "prop"])
        self.band = MaterialBand.objects.create(code="M1", low=20, likely=50, high=100)
        lid = ComponentGroup.objects.create(code="lid", name="Lid")
        kind = FindingKind.objects.create(code="lid-warped", group=lid, name="Lid warped")
        self.remedy = Remedy.objects.create(code="lid-pressed", finding_kind=kind, name="Press it")
        self.closed = ClosedDay.objects.create(day=clock.today(), name="stocktaking")
        self.week = IsoWeek.at(clock.now(), self.shop.zone)
        WeeklyReport.objects.create(year=self.week.year, week=self.week.week, figures=week_figures(self.week))
        self._planning()

    def _planning(self) -> None:
        today = clock.today()
        self.scarce = ScarceThing.objects.create(code="booth", name="Spray booth", count=1)
        self.leave = Leave.objects.create(person=self.someone, first_day=today, last_day=today)
        self.part = PartOnOrder.objects.create(
            task=self.task, what="a bass set", ordered_on=today, expected_on=today
        )
        self.hold = Hold.objects.create(instrument=self.other_instrument, until=today)
        now = clock.now()
        measures = [HoldBack(self.other_instrument.pk, today + timedelta(days=7))]
        measures.append(LetGoOn(self.other_instrument.pk))
        self.draft = Plan.objects.create(
            state=Plan.State.DRAFT, begins_at=now, measures=measures_to_data(measures)
        )
        self.plan = Plan.objects.create(state=Plan.State.PUBLISHED, begins_at=now, published_at=now)
        PlanLine.objects.create(
            plan=self.plan,
            task=self.task,
            department=self.bench,
            instrument=self.instrument,
            starts_at=now,
            ends_at=now + timedelta(hours=2),
            hours=1,
        )

    def _came_to_light(self) -> None:
        """A finding of a second survey, and what the customer was asked about it; another, not decided."""
        group, _ = ComponentGroup.objects.get_or_create(code="trial", defaults={"name": "Soundboard"})
        survey = Survey.objects.create(
            instrument=self.instrument, number=7, by=self.someone, finished_at=clock.now()
        )
        usual = {"survey": survey, "instrument": self.instrument, "group": group, "by": self.someone}
        self.surprise, self.open_question = (
            Finding.objects.create(number=number, name=name, severity=2, **usual)
            for number, name in ((701, "A crack under the plate"), (702, "A worn hinge"))
        )
        manager = self.people["manager"]
        draft = changes.begin(finding=self.surprise, by=manager)
        draft.why_hidden = "it lay under the plate"
        draft.save()
        draft.choices.filter(kind="do").update(words="Shim it.", price=200)
        draft.choices.filter(kind="leave").update(consequence="It may buzz.")
        self.change = changes.send(change=draft, seen_edition=draft.edition, by=manager)
        finding = Finding.objects.create(number=703, name="An old stain", severity=1, **usual)
        self.left = leaving.leave_by_the_shop(
            finding=finding, reason="sound", consequence="Nothing changes.", decided_by=PRIVATE[0], by=manager
        )
        self._went_home()

    def _went_home(self) -> None:
        """A report of an earlier time that was handed over, and one that is being written."""
        first = handovers.begin(instrument=self.instrument, by=self.people["manager"])
        first.frozen, first.fingerprint = report_of(first), "f" * 64
        first.handed_over_at, first.handed_over_by = clock.now(), self.people["manager"]
        first.received_by = PRIVATE[0]
        first.save()
        self.report = first
        self.writing = handovers.begin(instrument=self.instrument, by=self.people["manager"])

    def _offers(self) -> None:
        """One approved, one being written, one that waits for its answer."""
        manager, made = self.people["manager"], []
        for name in ("approved", "draft", "sent"):
            offer, _ = offers.begin(instrument=self.instrument, by=manager)
            offer.options.create(name=name, price=100, reckoned=100)
            made.append(offer)
        self.approved_offer, self.draft_offer, self.offer = made
        for offer in (self.approved_offer, self.offer):
            sending.send(offer=offer, seen_edition=offer.edition, by=manager)
            offer.refresh_from_db()
            if offer is self.approved_offer:
                approving.enter_approval(
                    offer=offer,
                    option_id=offer.options.get().pk,
                    typed_name=PRIVATE[0],
                    fingerprint=offer.fingerprint,
                    signed_on=clock.today(),
                    by=manager,
                )
        # The links that went out with them: one link is enough to try every address.
        PrivateLink.objects.exclude(pk=self.private_link.link.pk).delete()

    def _list(self) -> None:
        manager = self.people["manager"]
        self.brought = self.waiting_file("302")
        writing.bring_in(keeping.kept(self.brought, by=manager), {}, by=manager)

    def waiting_file(self, number: str = "301") -> str:
        """A list that the manager has looked at; a new one each time, since files are not taken back."""
        return keeping.keep(
            data=f"number,kind\n{number},grand\n".encode(), name="list.csv", by=self.people["manager"]
        )

    def waiting_scale(self) -> str:
        """A file of strings that the manager has looked at."""
        data = b"note,strings,length_mm,wire\n49,3,400,16\n"
        return keeping.keep(data=data, name="scale.csv", by=self.people["manager"])

    def browser(self, viewer: str) -> Client:
        """A browser in which this viewer is signed in."""
        browser = Client()
        if viewer == "customer":
            browser.get(f"/yours/{self.private_link.token}/")
            return browser
        if viewer == "manager by PIN":
            return cast.by_pin(browser, self.people[viewer])
        if viewer != "anonymous":
            browser.force_login(self.people[viewer])
        return browser


SCALE_PAGES = (
    "scale", "scale-facts", "scale-note", "scale-note-off", "scale-table", "scale-csv", "scale-bring",
    "scale-look", "scale-propose", "scale-beside", "scale-order", "scale-order-pdf",
)  # fmt: skip

# Which row an address means, by what stands in the address and, where that is not enough, by page or app.
ARGUMENTS: dict[str, Callable[[World], Any]] = {
    "code": lambda world: world.bench.code,
    "button": lambda world: "move",
    "year": lambda world: clock.today().year,
    "catalogue:stage pk": lambda world: world.task.stage_id,
    "catalogue:stage-button pk": lambda world: world.task.stage_id,
    "catalogue:step-button pk": lambda world: world.step.pk,
    "catalogue:operation code": lambda world: world.task.operation.code,
    "catalogue:operation-state code": lambda world: world.task.operation.code,
    "catalogue:line pk": lambda world: world.line.pk,
    "catalogue:work-steps pk": lambda world: world.work_steps.pk,
    "catalogue:operation-button code": lambda world: world.task.operation.code,
    "catalogue:operation-button button": lambda world: "retire",
    "catalogue:route-button button": lambda world: "retire",
    "catalogue:route code": lambda world: world.step.route.code,
    "catalogue:new-step code": lambda world: world.step.route.code,
    "catalogue:route-button code": lambda world: world.step.route.code,
    "catalogue:caution code": lambda world: world.caution.code,
    "catalogue:rest code": lambda world: world.rest.code,
    "catalogue:material code": lambda world: world.band.code,
    "catalogue:finding code": lambda world: world.remedy.finding_kind.code,
    "catalogue:finding-button code": lambda world: world.remedy.finding_kind.code,
    "catalogue:finding-button button": lambda world: "retire",
    "catalogue:new-remedy code": lambda world: world.remedy.finding_kind.code,
    "catalogue:remedy code": lambda world: world.remedy.code,
    "catalogue:remedy-button code": lambda world: world.remedy.code,
    "catalogue:remedy-button button": lambda world: "retire",
    "planning pk": lambda world: world.closed.pk,
    "photos key": lambda world: world.photo.key,
    "side": lambda world: 400,
    "planning:draft pk": lambda world: world.draft.pk,
    "planning:draft-publish pk": lambda world: world.draft.pk,
    "planning:draft-drop pk": lambda world: world.draft.pk,
    "planning:draft-again pk": lambda world: world.draft.pk,
    "planning:draft-without pk": lambda world: world.draft.pk,
    "planning:draft-without place": lambda world: 0,
    "planning:thing code": lambda world: world.scarce.code,
    "planning:thing-take-away code": lambda world: world.scarce.code,
    "planning:crew-end pk": lambda world: world.leave.pk,
    "planning:part pk": lambda world: world.part.pk,
    "planning:part-button pk": lambda world: world.part.pk,
    "planning:part-button button": lambda world: "arrived",
    "planning:let-go pk": lambda world: world.hold.pk,
    "planning kind": lambda world: "leave",
    "group": lambda world: "board",
    "instruments kind": lambda world: "SB2",
    "instruments which": lambda world: world.finding.number,
    "instruments:survey-verdict which": lambda world: world.earlier.number,
    "instruments:survey-take-back-reading pk": lambda world: world.survey_reading.pk,
    "instruments:survey-finding-button button": lambda world: "take-back",
    "photos:of-finding pk": lambda world: world.finding.pk,
    "number": lambda world: world.instrument.number,
    "key": lambda world: world.waiting_file(),
    "workshop:brought key": lambda world: world.brought,
    "readings pk": lambda world: world.task.pk,
    **{f"readings:{page} pk": lambda world: world.scale.pk for page in SCALE_PAGES},
    "readings:scale-drop pk": lambda world: world.other_scale.pk,
    "readings note": lambda world: 49,
    "other": lambda world: world.other_scale.pk,
    "readings phase": lambda world: "before",
    "readings:regulating-value code": lambda world: "dip",
    "readings:regulating-sample code": lambda world: "dip",
    "readings:scale-look key": lambda world: world.waiting_scale(),
    "readings kind": lambda world: "finishing",
    "readings:sum code": lambda world: "may-coat",
    "readings what": lambda world: "reading",
    "line_pk": lambda world: world.reading.pk,
    "workshop pk": lambda world: world.task.pk,
    "workshop:clear-snag pk": lambda world: world.stopped.pk,
    "workshop:ask-again pk": lambda world: world.stopped.pk,
    "snag_pk": lambda world: world.snag.pk,
    "people pk": lambda world: world.someone.pk,
    "people:tablet pk": lambda world: world.tablet.pk,
    "people:tablet-code pk": lambda world: world.tablet.pk,
    "people:tablet-revoke pk": lambda world: world.tablet.pk,
    "crate": lambda world: world.crate.number,
    "photos:mark pk": lambda world: world.mark.pk,
    "photos:mark-strike pk": lambda world: world.mark.pk,
    "instruments:crate-right pk": lambda world: world.lock.pk,
    "workshop:missing-part pk": lambda world: world.missing.pk,
    "week": lambda world: world.week,
    "reports:year-of number": lambda world: world.week.year,
    "what": lambda world: "on-hand",
    "offers:yours-photo key": lambda world: world.photo.key,
    "report_number": lambda world: world.report.number,
    "finding_pk": lambda world: world.open_question.pk,
    "left_pk": lambda world: world.left.pk,
    "change_number": lambda world: world.change.number,
    "offers:change-button button": lambda world: "rewrite",
    "offers:link-revoke pk": lambda world: world.private_link.link.pk,
    "token": lambda world: world.private_link.token,
    "version": lambda world: world.offer.version,
    "offers:option-add version": lambda world: world.draft_offer.version,
    "offers:option-take-out version": lambda world: world.draft_offer.version,
    "offers:option-take-out pk": lambda world: world.draft_offer.options.first().pk,
    "offers:objection version": lambda world: world.draft_offer.version,
    "offers:objection pk": lambda world: world.draft_offer.options.first().pk,
    "offers:offer-preview version": lambda world: world.draft_offer.version,
    "offers:offer-send version": lambda world: world.draft_offer.version,
    "offers:offer-deposit version": lambda world: world.approved_offer.version,
    "offers:offer-end button": lambda world: "withdraw",
}

# What is not there, where neither a large number nor an invented word can stand in the address.
NOT_THERE: dict[str, Any] = {"week": "1999-W01"}


def _yes(world: World) -> Form:
    option = world.offer.options.first().pk
    return {"option": option, "typed_name": "P. V.", "fingerprint": world.offer.fingerprint}


def _tap(**fields: Any) -> Form:
    return {"key": "tap-of-the-matrix"} | fields


def _answer(world: World) -> Form:
    choice = world.change.choices.get(kind="do").pk
    return {"choice": choice, "typed_name": "P. V.", "fingerprint": world.change.fingerprint}


def _signed(world: World, *lines: int) -> Form:
    """One of each of these parts counted, with a second name from outside."""
    counts = {f"line-{pk}": 1 for pk in lines}
    return _tap(seen=world._counting(), second_outside="the driver", **counts)


# Forms that would be taken from someone who may; where none stands here, an empty one is sent.
FORMS: dict[str, Callable[[World], Form]] = {
    "workshop:move": lambda world: _tap(seen=world.task.stage_id, to=cast.stage(world.task, "built-up").pk),
    "workshop:undo": lambda world: _tap(move=world.task.moves.last().pk),
    "workshop:snag": lambda world: _tap(
        cause="fault", reason="a joint has opened", ask_again=clock.today(), owner_outside="the supplier"
    ),
    "workshop:clear-snag": lambda world: _tap(),
    "workshop:ask-again": lambda world: _tap(ask_again_on=clock.today()),
    "workshop:hours": lambda world: _tap(hours="1.5"),
    "readings:read": lambda world: _tap(kind="gloss", phase="before", typed="82,5"),
    "readings:sum": lambda world: _tap(temp_c="20", rh="60", surface_c="19", margin_c="3", highest_rh="85"),
    "readings:strike": lambda world: _tap(reason="read on the wrong panel"),
    "readings:seen": lambda world: _tap(),
    "readings:cure": lambda world: _tap(hours="48", basis="the sheet of the lacquer"),
    "readings:note-air": lambda world: _tap(room="Booth", temp_c="20", rh_percent="55"),
    "workshop:take-back-hours": lambda world: _tap(entry=world.hours.pk),
    "workshop:missing-part": lambda world: _tap(task=world.task.pk, ask_again_on=clock.today()),
    "photos:marks": lambda world: _tap(kind="crack", x="10", y="20"),
    "photos:mark": lambda world: _tap(number=3),
    "photos:mark-strike": lambda world: _tap(),
    "photos:parts-out": lambda world: _signed(world, world.missing.pk) | {"to": "the plater"},
    "photos:parts-in": lambda world: _signed(world, world.missing.pk),
    "photos:put-aside": lambda world: {"reason": "blurred"},
    "instruments:crates": lambda world: _tap(set_name="pedals"),
    "instruments:crate-pack": lambda world: _tap(name="lock", count=1),
    "instruments:crate-move": lambda world: _tap(place="loft"),
    "instruments:crate-open": lambda world: _tap(),
    "instruments:crate-empty": lambda world: _tap(seen=world._counting()),
    "instruments:crate-out": lambda world: _signed(world, world.lock.pk) | {"to": "the plater"},
    "instruments:crate-in": lambda world: _signed(world, world.missing.pk),
    "instruments:crate-count": lambda world: _signed(world, world.missing.pk, world.lock.pk),
    "instruments:crate-right": lambda world: _tap(count=2, reason="there were two"),
    "instruments:survey-new-finding": lambda world: {
        "severity": "2",
        "confidence": "seen",
        "key": "form-of-the-matrix",
    },
    "instruments:survey-look": lambda world: {"word": "found"},
    "instruments:survey-reading": lambda world: {
        "kind": "crown",
        "value": "1,5",
        "key": "form-of-the-matrix",
    },
    "instruments:survey-verdict": lambda world: {"verdict": "worse"},
    "instruments:survey-draft": lambda world: {"draft": "known", "fragile": "lid"},
    "instruments:survey-finish": lambda world: {"why_not": "no time", "begun_word": "found"},
    "photos:photo": lambda world: {"role": "after", "caption": "lid", "seen": mark_of(facts_of(world.photo))},
    "people:person-pin": lambda world: {"pin": "407915"},
    "offers:leave": lambda world: {"reason": "sound", "consequence": "It may grow."},
    "offers:left-end": lambda world: {"why": "mended on the way", "is_mended": "on"},
    "offers:handover": lambda world: {"edition": world.writing.edition, "words": "Play it well."},
    "offers:handover-checks": lambda world: {"state-plays": "yes"},
    "offers:change-new": lambda world: {
        "name": "a coin",
        "group": world.surprise.group_id,
        "severity": "1",
        "key": "form-of-the-matrix",
    },
    "offers:change-begin": lambda world: {"finding": world.open_question.pk},
    "offers:change-button": lambda world: {"edition": world.change.edition},
    "offers:change-answer": lambda world: _answer(world),
    "offers:yours-change": lambda world: _answer(world),
    "offers:offer-new": lambda world: {"key": "key-of-the-matrix", "levels": ["rebuilt"]},
    "offers:option-add": lambda world: {"edition": world.draft_offer.edition, "way": "case-only"},
    "offers:option-take-out": lambda world: {"edition": world.draft_offer.edition},
    "offers:objection": lambda world: {
        "edition": world.draft_offer.edition,
        "words": "Something else.",
        "reason": "it is so",
    },
    "offers:offer-send": lambda world: {"edition": world.draft_offer.edition},
    "offers:offer-end": lambda world: {"why": "too dear"},
    "offers:offer-deposit": lambda world: {"on": clock.today()},
    "offers:offer-yes": lambda world: {"signed_on": clock.today()} | _yes(world),
    "offers:yours-offer": lambda world: {"agree": "on"} | _yes(world),
    "offers:link-make": lambda world: {"key": "key-of-the-matrix", "days": "30"},
    "people:tablets": lambda world: {"name": "Tablet of the matrix", "pixels_per_mm": "5.20"},
}


def argument_for(world: World, page: str, name: str) -> Any:
    app = page.partition(":")[0]
    for key in (f"{page} {name}", f"{app} {name}", name):
        if key in ARGUMENTS:
            return ARGUMENTS[key](world)
    raise LookupError(f"Which “{name}” does {page} mean? Add it to ARGUMENTS in tests/access_world.py.")
