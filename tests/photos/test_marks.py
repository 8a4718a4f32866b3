"""Numbered places on a photo, parts that lie there and are counted, photos put aside, the contact sheet."""

from __future__ import annotations

import re
import uuid

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Crate, CrateLine, CrateMove
from shopflow.instruments.services.crates import Part
from shopflow.photos import services
from shopflow.photos.models import Photo, PhotoMark
from shopflow.photos.selectors.parts import parts_of
from shopflow.photos.services import Spot
from shopflow.workshop.services.photos import photograph_task
from tests import cast

from . import pictures

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="214")


@pytest.fixture
def photo(piano, finn):
    return ready(piano, finn)


@pytest.fixture
def as_finn(client, finn):
    client.force_login(finn)
    return client


def ready(piano, by, **given) -> Photo:
    file = pictures.file(pictures.jpeg((320, 240)))
    given = {"role": "before", "caption": "the hardware"} | given
    return services.make_copies(services.add_photo(instrument=piano, file=file, by=by, **given))


def put(photo, by, *, kind="crack", at=(0.5, 0.5), key="", **given):
    return services.put_mark(photo=photo, kind=kind, at=Spot(*at), by=by, tap=cast.tap(by, key=key), **given)


def put_part(photo, by, *, at=(0.5, 0.5), key="", **given):
    return services.put_part(photo=photo, at=Spot(*at), by=by, tap=cast.tap(by, key=key), **given)


def numbers(photo):
    return [(mark.number, mark.words) for mark in PhotoMark.objects.standing().filter(photo=photo)]


def words_on(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


class TestMarks:
    def test_a_stranger_marks_nothing(self, photo, finn):
        stray = cast.stranger()
        mark = put(photo, finn)
        for deed in (
            lambda: put(photo, stray),
            lambda: put_part(photo, stray),
            lambda: services.change_mark(mark=mark, number=2, words="", length_mm=None, by=stray),
            lambda: services.strike_mark(mark=mark, by=stray),
        ):
            with pytest.raises(PermissionDenied):
                deed()
        assert numbers(photo) == [(1, "")]

    def test_numbers_go_on_and_a_struck_one_leaves_its_gap(self, photo, finn):
        marks = [put(photo, finn, words=f"crack {n}") for n in range(3)]
        services.strike_mark(mark=marks[1], by=finn)
        services.strike_mark(mark=marks[1], by=finn)
        put(photo, finn, words="one more")
        assert numbers(photo) == [(1, "crack 0"), (3, "crack 2"), (4, "one more")]
        assert PhotoMark.objects.count() == 4, "what was struck stays on record"

    def test_the_same_tap_marks_once(self, photo, finn):
        marks = [put(photo, finn, key="one-tap-only") for _ in range(3)]
        assert len({mark.pk for mark in marks}) == 1

    def test_a_number_that_another_one_bears_is_exchanged_with_it(self, photo, finn):
        first, second = put(photo, finn, words="long"), put(photo, finn, words="short")
        services.change_mark(mark=first, number=2, words="long", length_mm=412, by=finn)
        assert numbers(photo) == [(1, "short"), (2, "long")]
        services.change_mark(mark=second, number=7, words="short", length_mm=None, by=finn)
        assert numbers(photo) == [(2, "long"), (7, "short")]
        with pytest.raises(ValidationError):
            services.change_mark(mark=first, number=100, words="", length_mm=None, by=finn)

    def test_a_mark_on_another_photo_keeps_its_number(self, photo, piano, finn):
        other = put(ready(piano, finn), finn)
        put(photo, finn)
        services.change_mark(mark=put(photo, finn), number=1, words="", length_mm=None, by=finn)
        other.refresh_from_db()
        assert other.number == 1

    @pytest.mark.parametrize("at", [(-0.1, 0.5), (0.5, 1.01), (float("nan"), 0.5), (float("inf"), 0)])
    def test_beside_the_picture_there_is_no_mark(self, at):
        with pytest.raises(Refused, match="beside the picture"):
            Spot(*at)

    def test_a_photo_without_copies_or_put_aside_takes_no_mark(self, piano, finn, photo):
        waiting = services.add_photo(
            instrument=piano, file=pictures.file(pictures.png()), role="before", caption="", by=finn
        )
        services.put_aside(photo=photo, reason="blurred", by=finn)
        for one in (waiting, photo):
            with pytest.raises(Refused, match="cannot be marked"):
                put(one, finn)


class TestMarksPage:
    def send(self, browser, photo, to="", **fields):
        return browser.post(f"/photos/{photo.key}/marks/{to}", {"key": uuid.uuid4().hex} | fields)

    def test_a_tap_in_pixels_of_the_picture_becomes_shares_of_it(self, as_finn, photo):
        answer = self.send(as_finn, photo, kind="rib", **{"at.x": 240, "at.y": 360})
        assert answer.status_code == 303
        mark = PhotoMark.objects.get()
        assert (mark.kind, mark.x, mark.y) == ("rib", 0.25, 0.5)
        page = as_finn.get(f"/photos/{photo.key}/marks/").content.decode()
        assert "translate(80 120)" in page
        assert "style=" not in page

    @pytest.mark.parametrize("bad", ["-3", "1e400", "NaN", "100.1", "x", "9" * 400])
    def test_figures_beside_the_picture_are_refused_with_the_range(self, as_finn, photo, bad):
        answer = self.send(as_finn, photo, kind="crack", x=bad, y="12,5", words="the <b>long one")
        assert answer.status_code == 422
        assert "from 0 to 100" in words_on(answer)
        assert "the &lt;b&gt;long one" in answer.content.decode()
        assert self.send(as_finn, photo, kind="crack", x="12,5", y="50").status_code == 303
        assert PhotoMark.objects.get().x == 0.125

    def test_a_key_pressed_on_the_picture_is_no_tap(self, as_finn, photo):
        answer = self.send(as_finn, photo, kind="crack", **{"at.x": 0, "at.y": 0})
        assert "Tap on the picture, or write" in words_on(answer)

    def test_it_is_changed_and_struck_on_its_page_and_nowhere_else(self, as_finn, photo, piano, finn):
        mark = put(photo, finn)
        other = ready(piano, finn, caption="another")
        assert self.send(as_finn, other, f"{mark.pk}/", number=5).status_code == 404
        assert self.send(as_finn, other, f"{mark.pk}/strike/").status_code == 404
        self.send(as_finn, photo, f"{mark.pk}/", number=5, words="from bridge to rim", length_mm="412,5")
        assert "5 Crack: from bridge to rim, 412.5 mm" in words_on(as_finn.get(f"/photos/{photo.key}/"))
        assert self.send(as_finn, photo, f"{mark.pk}/", number="0").status_code == 422
        self.send(as_finn, photo, f"{mark.pk}/strike/")
        assert not PhotoMark.objects.standing().exists()

    def test_many_marks_cost_no_more_queries(self, as_finn, photo, finn, django_assert_max_num_queries):
        for n in range(20):
            put_part(photo, finn, part=Part(f"part {n}", 2))
        with django_assert_max_num_queries(18):
            as_finn.get(f"/photos/{photo.key}/marks/")
        with django_assert_max_num_queries(18):
            as_finn.get("/instruments/214/parts/")


class TestParts:
    def count(self, browser, way, second, **sent):
        counts = {
            f"line-{CrateLine.objects.get(name=name.replace('_', ' ')).pk}": n for name, n in sent.items()
        }
        fields = {"key": uuid.uuid4().hex, "second": second.pk, "to": "Tidewater Plating"} | counts
        return browser.post(f"/instruments/214/parts/{way}/", fields)

    @pytest.fixture
    def laid_out(self, photo, piano, finn):
        """Hinges in one crate, pedals in another, both on one photo."""
        box = cast.crate(piano, by=finn, holds="4 × lid hinges, 12 × hinge screws", number=31)
        put_part(photo, finn, at=(0.2, 0.3), line=box.lines.get(name="lid hinges"))
        put_part(photo, finn, at=(0.7, 0.3), part=Part("pedals", 3))
        return photo

    def test_a_new_part_is_packed_by_the_tap_that_marks_it(self, photo, finn):
        for _ in range(3):
            put_part(photo, finn, key="one-tap-only", part=Part("pedals", 3))
        line = CrateLine.objects.get()
        assert (line.count, line.crate.set_name, Crate.objects.count()) == (3, "hardware", 1)

    def test_a_part_is_marked_once_and_only_on_photos_of_its_own_piano(self, laid_out, piano, finn, maud):
        hinges = CrateLine.objects.get(name="lid hinges")
        with pytest.raises(Refused, match="marked on a photo already"):
            put_part(ready(piano, finn), finn, line=hinges)
        theirs = cast.crate(cast.instrument(by=maud, number="215"), by=finn, holds="2 × odd pegs")
        with pytest.raises(Refused, match="no part of 214"):
            put_part(laid_out, finn, line=theirs.lines.get())
        with pytest.raises(Refused, match="none of 214"):
            put_part(laid_out, finn, part=Part("lock", 1), crate=theirs)

    def test_counted_out_and_in_a_hole_shows_what_is_missing(self, as_finn, laid_out, piano, maud):
        def states():
            return [placed.state for placed in parts_of(piano).photos[0].marks]

        assert states() == ["here", "here"]
        assert self.count(as_finn, "out", maud, lid_hinges=4, pedals=3).status_code == 303
        assert states() == ["away", "away"]
        shown = words_on(as_finn.get("/instruments/214/parts/"))
        assert "4 of 4 × lid hinges counted out to Tidewater Plating" in shown
        assert self.count(as_finn, "in", maud, lid_hinges=3, pedals=3).status_code == 303
        assert states() == ["missing", "here"]
        page = as_finn.get("/instruments/214/parts/")
        assert "1 of 4 × lid hinges missing." in words_on(page)
        assert "Put a snag on the work it stops" in words_on(page)
        assert page.content.decode().count("pin is-missing") == 1

    def test_one_tap_counts_in_every_crate_once(self, as_finn, laid_out, maud, finn):
        sent = {f"line-{line.pk}": line.count for line in parts_of(laid_out.instrument).lines}
        fields = {"key": "the-very-same", "second": maud.pk, "to": "Tidewater Plating"} | sent
        said = [
            as_finn.post("/instruments/214/parts/out/", fields, headers={"Accept": "application/json"}).json()
            for _ in range(3)
        ]
        assert said[0] == said[1] == said[2]
        assert CrateMove.objects.filter(kind="out").count() == 2

    def test_what_is_refused_in_one_crate_is_counted_in_none(self, as_finn, laid_out, maud):
        answer = self.count(as_finn, "out", maud, lid_hinges=4, pedals=4)
        assert answer.status_code == 422
        assert "allowed is 0 to 3" in words_on(answer)
        assert not CrateMove.objects.filter(kind="out").exists()

    def test_strange_parts_are_not_found_and_one_name_is_not_enough(self, as_finn, laid_out, maud, finn):
        theirs = cast.crate(cast.instrument(by=maud, number="215"), by=finn, holds="2 × odd pegs")
        assert self.count(as_finn, "out", maud, odd_pegs=1).status_code == 404
        assert self.count(as_finn, "out", maud, lid_hinges=1, odd_pegs=1).status_code == 404
        assert self.count(as_finn, "out", finn, lid_hinges=1).status_code == 422
        assert theirs.moves.count() == 1

    def test_counting_some_leaves_the_others_out(self, as_finn, laid_out, maud, finn):
        self.count(as_finn, "out", maud, lid_hinges=4, pedals=3)
        self.count(as_finn, "in", maud, pedals=3)
        assert (CrateLine.objects.get(name="lid hinges").away, CrateLine.objects.get(name="pedals").away) == (
            4,
            0,
        )

    def test_the_empty_pages_say_what_to_do(self, client, as_finn, maud, photo):
        assert "No part is marked on a photo yet" in words_on(as_finn.get("/instruments/214/parts/"))
        cast.instrument(by=maud, number="216")
        assert "Lay the parts out, photograph them" in words_on(as_finn.get("/instruments/216/parts/"))


class TestAside:
    def test_who_took_it_and_the_office_may_others_may_not(self, photo, maud):
        for other in (cast.finisher("Greta Lunt"), cast.stranger()):
            with pytest.raises(PermissionDenied):
                services.put_aside(photo=photo, reason="x", by=other)
            with pytest.raises(PermissionDenied):
                services.bring_back(photo=photo, by=other)
        with pytest.raises(Refused, match="Say why"):
            services.put_aside(photo=photo, reason="", by=maud)
        services.put_aside(photo=photo, reason="shows a face", by=maud)
        kept = services.put_aside(photo=photo, reason="another reason", by=maud)
        assert kept.hidden_reason == "shows a face"

    def test_it_is_shown_nowhere_stays_on_record_and_can_be_brought_back(self, client, photo, finn, maud):
        Photo.objects.update(for_customer=True)
        client.force_login(finn)
        copy = f"/photos/{photo.key}/400.jpg"
        assert copy in client.get("/instruments/214/photos/").content.decode()
        assert client.post(f"/photos/{photo.key}/aside/", {"reason": " "}).status_code == 422
        client.post(f"/photos/{photo.key}/aside/", {"reason": "blurred"})
        for page in ("/instruments/214/photos/", "/instruments/214/", "/instruments/214/photos/sheet/"):
            assert copy not in client.get(page).content.decode(), page
        assert "Put aside on" in words_on(client.get(f"/photos/{photo.key}/"))
        assert client.get(copy).status_code == 200
        photo.refresh_from_db()
        assert photo.for_customer is False
        client.force_login(cast.finisher("Greta Lunt"))
        assert client.get(copy).status_code == 404
        assert "1600.jpg" not in client.get(f"/photos/{photo.key}/").content.decode()
        client.force_login(maud)
        client.post(f"/photos/{photo.key}/bring-back/")
        assert copy in client.get("/instruments/214/photos/").content.decode()

    def test_a_stage_that_asked_for_a_photo_asks_again(self, piano, finn, maud):
        strip = cast.task(cast.operation("strip"), on=piano, by=maud)
        strip.department.stages.filter(code="rack").update(needs_photo=True)
        file = pictures.file(pictures.jpeg())
        photo = photograph_task(task=strip, file=file, role="before", caption="", by=finn)
        services.put_aside(photo=photo, reason="blurred", by=finn)
        assert "asks for a photo" in cast.send(strip, "stripped", by=finn).said["refused"]
        services.bring_back(photo=photo, by=finn)
        assert cast.send(strip, "stripped", by=finn).status == 200


class TestContactSheet:
    def test_twelve_to_a_page_with_role_day_name_and_words(self, as_finn, piano, finn):
        one = ready(piano, finn)
        twins = [
            Photo(
                instrument=piano,
                caption=f"view {n}",
                role="after",
                state="ready",
                width=4,
                height=3,
                added_by=finn,
            )
            for n in range(12)
        ]
        Photo.objects.bulk_create(twins)
        page = as_finn.get("/instruments/214/photos/sheet/")
        assert page.content.decode().count('class="contact-page"') == 2
        assert "Page 2 of 2" in page.content.decode()
        shown = words_on(page)
        assert f"Before · {one.added_at:%-d %b %Y} · Finn Tarrow the hardware" in shown
        assert shown.index("view 0") < shown.index("view 11")

    def test_without_photos_it_says_where_to_take_some(self, as_finn, piano):
        assert "twelve to a page" in words_on(as_finn.get("/instruments/214/photos/sheet/"))


class TestOutbox:
    def send(self, browser, content, **fields):
        batch = fields.pop("batch", str(uuid.uuid4()))
        sent = {"role": "before", "batch": batch, "key": batch, "photos": pictures.file(content)} | fields
        return browser.post("/instruments/214/photos/", sent, headers={"Accept": "application/json"})

    def test_the_same_photo_sent_three_times_is_one_photo(self, as_finn, piano):
        batch = str(uuid.uuid4())
        said = [self.send(as_finn, pictures.jpeg(), batch=batch).json() for _ in range(3)]
        assert said == [{"words": "1 photo is received.", "notes": []}] * 3
        assert Photo.objects.count() == 1

    def test_a_late_one_is_told_to_be_late(self, as_finn, piano):
        said = self.send(as_finn, pictures.jpeg(), tapped_at="2026-01-01T10:00:00Z").json()
        assert "kept on this tablet" in " ".join(said["notes"])

    def test_what_is_no_photo_is_refused_for_good_and_what_is_strange_is_not_understood(self, as_finn, piano):
        answer = self.send(as_finn, pictures.heic())
        assert (answer.status_code, "HEIC" in answer.json()["words"]) == (422, True)
        assert self.send(as_finn, pictures.jpeg(), role="nonsense").status_code == 422
        assert self.send(as_finn, pictures.jpeg(), key="short").status_code == 400
        assert self.send(as_finn, pictures.jpeg(), photos="").status_code == 422
        assert self.send(as_finn, pictures.jpeg(), **{"as": "a forged mark"}).status_code == 403
        assert not Photo.objects.exists()

    def test_a_stranger_sends_none(self, client, piano):
        client.force_login(cast.stranger())
        assert self.send(client, pictures.jpeg()).status_code == 403
        assert not Photo.objects.exists()
