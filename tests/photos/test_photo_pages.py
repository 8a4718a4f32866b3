"""Photos on pages: sending them, seeing them, saying better what they show."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from unittest.mock import patch

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import TestCase, override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.common import clock
from shopflow.common.models import Watch
from shopflow.people.edits import mark_of
from shopflow.photos import files
from shopflow.photos.models import Photo
from shopflow.photos.services import taking as services
from shopflow.workshop.models import TaskPhoto
from shopflow.workshop.services import layout
from tests import cast

from . import pictures

_check = services.upload.check
HTMX = {"HTTP_HX_REQUEST": "true"}


class PagesCase(TestCase):
    def setUp(self):
        cast.shop()
        self.maud = cast.manager()
        self.finn = cast.finisher()
        self.piano = cast.instrument(by=self.maud, number="501")
        self.strip = cast.task(cast.operation("strip"), on=self.piano, by=self.maud)
        self.url = reverse("workshop:photos", args=["501"])
        self.task_url = reverse("workshop:task-photos", args=[self.strip.pk])
        self.client.force_login(self.finn)

    def send(self, *contents, to="", **given):
        sent = [content if hasattr(content, "read") else pictures.file(content) for content in contents]
        facts = {"role": "before", "caption": "lid", "batch": str(uuid.uuid4()), "photos": sent}
        headers = given.pop("headers", {})
        return self.client.post(to or self.url, facts | given, **headers)

    def photo(self, **given):
        facts = {"instrument": self.piano, "role": "before", "caption": "lid", "by": self.finn}
        return services.add_photo(file=pictures.file(pictures.jpeg()), **(facts | given))

    def ready(self, **given):
        return services.make_copies(self.photo(**given))

    def copy_url(self, photo, side=400):
        return reverse("photos:copy", args=[photo.key, side])


class WhoMayTests(PagesCase):
    def test_strangers_see_and_send_nothing(self):
        photo = self.ready()
        pages = [self.url, self.task_url, self.copy_url(photo), reverse("photos:photo", args=[photo.key])]
        self.client.logout()
        for page in pages:
            assert self.client.get(page).status_code == 302
        self.client.force_login(cast.stranger())
        for page in pages:
            assert self.client.get(page).status_code == 403
        for to in (self.url, self.task_url):
            assert self.send(pictures.jpeg(), to=to).status_code == 403
        assert Photo.objects.count() == 1

    def test_what_is_not_there_is_a_missing_page(self):
        photo = self.ready()
        missing = [
            reverse("photos:copy", args=[uuid.uuid4(), 400]),
            reverse("photos:photo", args=[uuid.uuid4()]),
            reverse("photos:copy", args=[photo.key, 800]),
            reverse("photos:copy", args=[photo.key, 99999999999999999999]),
            reverse("workshop:photos", args=["999"]),
            reverse("workshop:task-photos", args=[999999]),
            f"/photos/{photo.key}/../../shop.sqlite3",
            f"/photos/waiting/{photo.key.hex}",
        ]
        for page in missing:
            with self.subTest(page):
                assert self.client.get(page).status_code == 404

    def test_a_photo_that_waits_or_was_refused_has_no_copy(self):
        waiting = self.photo()
        assert self.client.get(self.copy_url(waiting)).status_code == 404
        files.waiting(waiting.key).unlink()
        services.make_copies(waiting)
        assert self.client.get(self.copy_url(waiting)).status_code == 404


class ServedTests(PagesCase):
    def test_a_copy_is_a_plain_jpeg_that_stays_in_no_browser(self):
        photo = self.ready()
        answer = self.client.get(self.copy_url(photo), headers={"Accept-Encoding": "gzip"})
        assert answer.content == files.copy(photo.key, 400).read_bytes()
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Cache-Control"] == "private, no-store"
        assert "sandbox" in answer.headers["Content-Security-Policy"]
        assert re.fullmatch(r'inline; filename="501-\d+-400\.jpg"', answer.headers["Content-Disposition"])

    def test_a_copy_that_got_lost_is_a_missing_page(self):
        photo = self.ready()
        files.copy(photo.key, 400).unlink()
        assert self.client.get(self.copy_url(photo)).status_code == 404


class SendTests(PagesCase):
    def test_several_at_once_are_received(self):
        self.assertRedirects(self.send(pictures.jpeg(), pictures.png()), self.url)
        assert Photo.objects.filter(instrument=self.piano, added_by=self.finn, role="before").count() == 2
        self.assertContains(self.client.get(self.url), "2 photos received")

    def test_at_a_task_they_are_tied_to_it(self):
        self.assertRedirects(self.send(pictures.jpeg(), to=self.task_url), self.task_url)
        assert TaskPhoto.objects.get().task == self.strip
        self.assertContains(self.client.get(self.task_url), "1 photo received")

    def test_a_dropped_task_takes_none(self):
        layout.drop_task(task=self.strip, by=self.maud, reason="kept as found")
        self.assertContains(self.send(pictures.jpeg(), to=self.task_url), "kept as found", status_code=422)
        assert not Photo.objects.exists()

    def test_one_that_is_refused_does_not_take_the_others_with_it(self):
        bad = SimpleUploadedFile("<b>lid.heic", pictures.heic(), content_type="image/heic")
        answer = self.send(pictures.jpeg(), bad, caption="before the strip")
        assert answer.status_code == 422
        shown = answer.content.decode()
        assert "&lt;b&gt;lid.heic: This is a HEIC photo" in shown
        assert "1 photo is received." in shown
        assert 'value="before the strip"' in shown
        assert Photo.objects.count() == 1

    def test_no_file_and_odd_words_are_refused_with_what_was_typed(self):
        for given, words in (
            ({"photos": []}, "Choose at least one photo"),
            ({"role": "stolen"}, "Select a valid choice"),
            ({"caption": "x" * 201}, "at most 200"),
            ({"batch": "x"}, "valid UUID"),
        ):
            with self.subTest(words):
                self.assertContains(self.send(pictures.jpeg(), **given), words, status_code=422)
        assert not Photo.objects.exists()

    def test_the_same_form_sent_three_times_is_one_photo(self):
        batch = str(uuid.uuid4())
        for _ in range(3):
            assert self.send(pictures.jpeg(), batch=batch, to=self.task_url).status_code == 302
        assert Photo.objects.count() == TaskPhoto.objects.count() == 1

    def test_more_files_than_allowed_are_refused_in_words(self):
        answer = self.send(*[pictures.jpeg()] * 21)
        assert answer.status_code == 413
        assert not Photo.objects.exists()

    def test_fields_that_are_not_asked_for_are_ignored(self):
        self.send(
            pictures.jpeg(), added_by=self.maud.pk, state="ready", instrument="7", key=str(uuid.uuid4())
        )
        photo = Photo.objects.get()
        assert (photo.added_by, photo.state, photo.instrument) == (self.finn, "waiting", self.piano)

    def test_by_htmx_a_piece_comes_back_and_says_so(self):
        answer = self.send(pictures.jpeg(), headers=HTMX)
        assert answer.content.decode().lstrip().startswith('<div id="gallery"')
        assert "1 photo is received." in answer.headers["HX-Trigger"]

    def test_no_csrf_token_no_photo(self):
        strict = self.client_class(enforce_csrf_checks=True)
        strict.force_login(self.finn)
        sent = {"role": "before", "batch": str(uuid.uuid4()), "photos": pictures.file(pictures.jpeg())}
        assert strict.post(self.url, sent).status_code == 403
        assert not Photo.objects.exists()


class GalleryTests(PagesCase):
    def test_while_copies_are_made_the_page_looks_again(self):
        Watch.objects.create(pk=1, seen_at=clock.now())
        self.photo()
        shown = self.client.get(self.url).content.decode()
        assert "the copies are being made" in shown
        assert "every 3s" in shown

    def test_with_the_worker_away_it_says_so(self):
        Watch.objects.create(pk=1, seen_at=clock.now() - timedelta(minutes=5))
        self.photo()
        self.assertContains(self.client.get(self.url), "as soon as the worker is back")

    def test_once_they_are_made_it_stops_looking(self):
        photo = self.ready()
        shown = self.client.get(self.url, **HTMX).content.decode()
        assert shown.startswith('<div id="photos"')
        assert "every 3s" not in shown
        assert self.copy_url(photo) in shown

    def test_one_that_did_not_open_is_named_with_its_reason(self):
        photo = self.photo()
        files.waiting(photo.key).unlink()
        services.make_copies(photo)
        self.assertContains(self.client.get(self.url), "Try again")

    def test_before_and_after_stand_side_by_side(self):
        self.ready(caption="Lid")
        self.ready(caption="leg", role="found")
        after = self.ready(caption="lid", role="after")
        (pair,) = self.client.get(self.url).context["gallery"].pairs
        assert (pair.before.caption, pair.after) == ("Lid", after)

    def test_without_captions_the_first_and_the_last_are_a_pair(self):
        first = self.ready(caption="", role="found")
        self.ready(caption="", role="during")
        last = self.ready(caption="", role="after")
        (pair,) = self.client.get(self.url).context["gallery"].pairs
        assert (pair.before, pair.after) == (first, last)

    def test_the_page_asks_as_often_for_thirty_photos_as_for_two(self):
        def queries():
            with CaptureQueriesContext(connection) as caught:
                assert self.client.get(self.url).status_code == 200
            return len(caught)

        self.send(pictures.jpeg(), to=self.task_url)
        Photo.objects.update(state="ready", width=64, height=48)
        self.client.get(self.url)
        few = queries()
        for number in range(20):
            self.photo(caption=f"part {number}")
        Photo.objects.update(state="ready", width=64, height=48)
        assert queries() == few

    def test_the_instruments_page_shows_them(self):
        photo = self.ready()
        self.assertContains(self.client.get(self.piano.get_absolute_url()), self.copy_url(photo))


class EvidenceTests(PagesCase):
    def setUp(self):
        super().setUp()
        cast.walk(self.strip, by=self.finn, until="stripped")
        cast.stage(self.strip, "stripped").__class__.objects.filter(code="stripped").update(needs_photo=True)

    def test_a_stage_that_asks_for_a_photo_is_left_once_there_is_one(self):
        assert cast.send(self.strip, "built-up", by=self.finn).status == 422
        self.send(pictures.jpeg(), to=self.task_url)
        assert cast.send(self.strip, "built-up", by=self.finn).status == 200

    def test_one_that_did_not_open_is_no_evidence(self):
        self.send(pictures.jpeg(), to=self.task_url)
        photo = Photo.objects.get()
        files.waiting(photo.key).unlink()
        services.make_copies(photo)
        assert cast.send(self.strip, "built-up", by=self.finn).status == 422


class ChangeTests(PagesCase):
    def setUp(self):
        super().setUp()
        self.shown = self.ready()
        self.page = reverse("photos:photo", args=[self.shown.key])
        self.seen = mark_of(services.facts_of(self.shown))

    def change(self, **given):
        return self.client.post(
            self.page, {"role": "after", "caption": "lid, rubbed out", "seen": self.seen} | given
        )

    def test_whoever_added_it_and_the_office_say_better_what_it_shows(self):
        for person in (self.finn, self.maud):
            self.client.force_login(person)
            self.assertRedirects(self.change(), self.page)
        self.shown.refresh_from_db()
        assert (self.shown.role, self.shown.caption) == ("after", "lid, rubbed out")

    def test_other_hands_may_not(self):
        self.client.force_login(cast.person("Greta Lunt"))
        assert self.change().status_code == 403
        assert "Say better" not in self.client.get(self.page).content.decode()

    def test_the_second_saver_sees_both_and_keeps_what_was_typed(self):
        self.change()
        answer = self.change(caption="something else")
        self.assertContains(answer, "lid, rubbed out", status_code=409)
        self.assertContains(answer, 'value="something else"', status_code=409)
        again = answer.context["form"]["seen"].value()
        self.assertRedirects(self.change(caption="something else", seen=again), self.page)

    def test_nothing_else_of_it_can_be_changed(self):
        self.change(state="refused", instrument="7", original_name="x", key=str(uuid.uuid4()))
        kept = Photo.objects.get()
        assert (kept.state, kept.key, kept.instrument) == ("ready", self.shown.key, self.piano)

    def test_words_stay_words(self):
        self.change(caption="<script>alert(1)</script>\u202e")
        self.assertContains(self.client.get(self.page), "&lt;script&gt;alert(1)&lt;/script&gt;")
        self.assertContains(self.client.get(self.url), "&lt;script&gt;")


class LimitTests(PagesCase):
    @override_settings(PHOTO_MAX_BYTES=200_000)
    def test_of_a_file_too_large_no_more_is_kept_than_may_be_sent(self):
        kept = []
        with patch.object(
            services.upload, "check", side_effect=lambda file: kept.append(file) or _check(file)
        ):
            answer = self.send(pictures.jpeg() + b"x" * 6_000_000)
        self.assertContains(answer, "This file is larger than 0.2 MB", status_code=422)
        assert 200_000 < kept[0].size < 400_000

    def test_a_disk_that_is_full_refuses_in_words(self):
        full = OSError(28, "No space left on device")
        with patch.object(services.files, "keep_waiting", side_effect=full):
            answer = self.send(pictures.jpeg())
        self.assertContains(answer, "could not keep this photo (No space left on device)", status_code=422)
        assert not Photo.objects.exists()
