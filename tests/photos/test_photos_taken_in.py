"""What is taken in, what is refused, and what the copies still carry of what was sent."""

from __future__ import annotations

import io
import json
import re
import resource
import subprocess
import sys
import time
import uuid
from pathlib import Path
from unittest.mock import patch

import pytest
from django.conf import settings
from django.test import TestCase, override_settings
from PIL import Image

from shopflow.common.models import Job
from shopflow.people.access import NotAllowed
from shopflow.photos import decode, files
from shopflow.photos.background import photo_copies
from shopflow.photos.models import Photo
from shopflow.photos.refusal import PhotoRefused
from shopflow.photos.services import taking as services
from tests import cast

from . import pictures


class PhotoCase(TestCase):
    def setUp(self):
        self.maud = cast.manager()
        self.finn = cast.finisher()
        self.piano = cast.instrument(by=self.maud, number="501")

    def add(self, content, name="photo.jpg", **given):
        facts = {"instrument": self.piano, "role": Photo.Role.BEFORE, "caption": "", "by": self.finn}
        return services.add_photo(file=pictures.file(content, name), **(facts | given))

    def copied(self, content, **given):
        return services.make_copies(self.add(content, **given))

    def bytes_of(self, photo):
        return [files.copy(photo.key, side).read_bytes() for side in files.SIDES]

    def shown(self, photo):
        return Image.open(io.BytesIO(self.bytes_of(photo)[0]))


class RefusedTests(PhotoCase):
    def test_whatever_is_no_whole_photo_is_refused_in_words(self):
        before = set(files.waiting(uuid.uuid4()).parent.iterdir())
        for what, (make, words) in pictures.REFUSED.items():
            with self.subTest(what), pytest.raises(PhotoRefused, match=words):
                self.add(make())
        assert not Photo.objects.exists()
        assert set(files.waiting(uuid.uuid4()).parent.iterdir()) == before

    def test_the_name_does_not_make_a_photo(self):
        for name in ("photo.jpg", "photo.png", "a.jpg.php", "photo"):
            with self.subTest(name), pytest.raises(PhotoRefused):
                self.add(pictures.svg(), name)

    @override_settings(PHOTO_MAX_BYTES=1000)
    def test_a_file_too_large_is_refused_before_it_is_read(self):
        with pytest.raises(PhotoRefused, match=r"larger than 0\.001 MB"):
            self.add(pictures.jpeg((640, 480)))

    def test_the_stranger_adds_none(self):
        with pytest.raises(NotAllowed):
            self.add(pictures.jpeg(), by=cast.stranger())

    def test_what_only_the_drawing_finds_out_is_refused_then(self):
        photo = self.copied(pictures.png_with_nonsense_inside())
        assert (photo.state, photo.refusal) == (Photo.State.REFUSED, decode.UNREADABLE)
        assert not files.waiting(photo.key).exists()
        assert not files.copy(photo.key, 1600).exists()


class DrawnAnewTests(PhotoCase):
    def test_every_kind_of_photo_becomes_two_plain_jpegs(self):
        for what, make in pictures.TAKEN.items():
            with self.subTest(what):
                sent = make()
                photo = self.copied(sent)
                assert photo.state == Photo.State.READY, photo.refusal
                for copy in self.bytes_of(photo):
                    shown = Image.open(io.BytesIO(copy))
                    assert (shown.format, shown.mode) == ("JPEG", "RGB")
                    assert copy != sent

    def test_nothing_that_was_written_into_it_is_left(self):
        for what, make in pictures.TAKEN.items():
            with self.subTest(what):
                for copy in self.bytes_of(self.copied(make())):
                    for trace in (
                        b"Exif",
                        b"GPS",
                        b"ICC_PROFILE",
                        b"http:",
                        b"<script",
                        pictures.SECRET.encode(),
                    ):
                        assert trace not in copy
                    assert _segments(copy) <= {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}

    def test_the_colours_stay(self):
        for what in (
            "plain JPEG",
            "PNG with texts",
            "CMYK",
            "see-through PNG",
            "WebP",
            "broken colour profile",
        ):
            with self.subTest(what):
                shown = self.shown(self.copied(pictures.TAKEN[what]()))
                left, right = shown.getpixel((8, 24)), shown.getpixel((56, 24))
                assert left[0] > 150 > left[2]
                assert right[2] > 150 > right[0]

    def test_sixteen_bits_are_brought_down_to_eight(self):
        deep = Image.new("I;16", (64, 48), 65535)
        deep.paste(0, (32, 0, 64, 48))
        shown = self.shown(self.copied(pictures.saved(deep, "PNG")))
        assert shown.getpixel((8, 24)) == (255, 255, 255)
        assert shown.getpixel((56, 24)) == (0, 0, 0)

    def test_what_is_see_through_lies_on_white_paper(self):
        clear = Image.new("RGBA", (64, 48), (0, 0, 0, 0))
        assert self.shown(self.copied(pictures.saved(clear, "PNG"))).getpixel((8, 8)) == (255, 255, 255)

    def test_it_stands_upright_however_the_camera_was_held(self):
        # Red comes first in what the camera stored; where it has to end up, by the note the camera made.
        red_at = {1: "left", 2: "right", 3: "right", 4: "left", 5: "top", 6: "top", 7: "bottom", 8: "bottom"}
        places = {"left": (4, 24), "right": (59, 24), "top": (24, 4), "bottom": (24, 59)}
        for note, where in red_at.items():
            with self.subTest(note):
                photo = self.copied(pictures.turned(note))
                assert (photo.width, photo.height) == ((64, 48) if note < 5 else (48, 64))
                red, _, blue = self.shown(photo).getpixel(places[where])
                assert red > 150 > blue

    def test_large_ones_are_made_smaller_and_small_ones_are_not_blown_up(self):
        photo = self.copied(pictures.jpeg((3000, 2000)))
        sizes = [Image.open(io.BytesIO(copy)).size for copy in self.bytes_of(photo)]
        assert sizes == [(1600, 1067), (400, 267)]
        assert (photo.width, photo.height) == (1600, 1067)
        assert self.shown(self.copied(pictures.jpeg((64, 48)))).size == (64, 48)


def _segments(copy: bytes) -> set[int]:
    """The marks of a JPEG's segments up to its picture."""
    at, found = 2, set()
    while copy[at + 1] != 0xDA:
        found.add(copy[at + 1])
        at += 2 + int.from_bytes(copy[at + 2 : at + 4], "big")
    return found


class CostTests(PhotoCase):
    """In a process of its own, so that its memory can be told apart."""

    def drawn(self, content, most_pixels=settings.PHOTO_MAX_PIXELS):
        source = Path(settings.MEDIA_ROOT) / f"source-{uuid.uuid4().hex}"
        source.parent.mkdir(parents=True, exist_ok=True)
        source.write_bytes(content)
        command = [sys.executable, "-I", decode.__file__, str(source), str(most_pixels), f"{source}.jpg=1600"]
        measured = (
            "import json,resource,subprocess,sys;"
            f"r=subprocess.run({command!r},capture_output=True,text=True);"
            "u=resource.getrusage(resource.RUSAGE_CHILDREN);"
            "print(json.dumps([json.loads(r.stdout),u.ru_maxrss*1024,u.ru_utime+u.ru_stime]))"
        )
        ended = subprocess.run([sys.executable, "-c", measured], capture_output=True, text=True, check=True)
        return json.loads(ended.stdout)

    def test_a_flood_of_pixels_costs_little_memory_and_time(self):
        said, memory, seconds = self.drawn(pictures.flood())
        assert "too many pixels" in said["refused"]
        assert memory < 300_000_000
        assert seconds < 5

    def test_the_largest_that_is_allowed_stays_within_its_memory(self):
        for mode in ("RGB", "RGBA", "1"):
            with self.subTest(mode):
                plain = Image.new(mode, (8160, 6120))
                said, memory, seconds = self.drawn(pictures.saved(plain, "PNG", compress_level=1))
                assert said.get("width") == 1600 or said["refused"] == decode.TOO_BIG
                assert memory < 310_000_000
                assert seconds < 6

    def test_a_phones_largest_jpeg_is_opened(self):
        said, memory, _ = self.drawn(pictures.jpeg((8160, 6120)))
        assert said == {"width": 1600, "height": 1200}
        assert memory < 300_000_000

    def test_looking_at_it_as_it_comes_in_costs_next_to_nothing(self):
        before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
        for make in (
            pictures.giant_text,
            lambda: pictures.webp_that_says(16_383, 16_383),
            lambda: pictures.png_that_says(20_000, 20_000),
        ):
            hostile = make()
            began = time.process_time()
            with pytest.raises(PhotoRefused):
                self.add(hostile)
            assert time.process_time() - began < 1
        assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024 < 250_000_000

    def test_one_that_never_ends_is_given_up(self):
        photo = self.add(pictures.jpeg())
        with patch.object(services, "PATIENCE_S", 0.001):
            services.make_copies(photo)
        assert (photo.state, photo.refusal) == (Photo.State.REFUSED, services.TOOK_TOO_LONG)


class BackgroundTests(PhotoCase):
    def run_job(self, photo):
        return photo_copies(None, photo_id=photo.pk)

    def test_a_photo_waits_with_its_job_written_down(self):
        photo = self.add(pictures.jpeg())
        assert photo.state == Photo.State.WAITING
        job = Job.objects.get(kind="photo-copies")
        assert (job.args, job.by_pk) == ({"photo_id": photo.pk}, self.finn.pk)

    @override_settings(CELERY_BROKER_URL="redis://127.0.0.1:1/0")
    def test_with_the_broker_away_it_is_taken_in_all_the_same(self):
        with self.captureOnCommitCallbacks(execute=True):
            photo = self.add(pictures.jpeg())
        assert Job.objects.filter(state=Job.State.QUEUED, args={"photo_id": photo.pk}).exists()

    def test_done_twice_the_copies_are_the_same_and_what_was_sent_is_gone(self):
        photo = self.add(pictures.jpeg())
        assert self.run_job(photo)["state"] == "ready"
        photo.refresh_from_db()
        first = self.bytes_of(photo)
        assert self.run_job(photo)["state"] == "ready"
        assert self.bytes_of(photo) == first
        assert not files.waiting(photo.key).exists()

    def test_cut_off_between_the_copies_and_the_row_it_is_done_again(self):
        photo = self.add(pictures.jpeg())
        with (
            patch.object(services, "_write_down", side_effect=KeyboardInterrupt),
            pytest.raises(KeyboardInterrupt),
        ):
            services.make_copies(photo)
        assert self.run_job(photo)["state"] == "ready"

    def test_a_disk_that_is_full_leaves_the_photo_waiting(self):
        photo = self.add(pictures.jpeg())
        with (
            patch.object(Path, "replace", side_effect=OSError(28, "No space left on device")),
            pytest.raises(OSError, match="space"),
        ):
            services.make_copies(photo)
        photo.refresh_from_db()
        assert photo.state == Photo.State.WAITING
        assert self.run_job(photo)["state"] == "ready"
        assert [
            path.suffix for path in files.copy(photo.key, 400).parent.iterdir() if photo.key.hex in path.name
        ] == [".jpg"]

    def test_a_file_that_got_lost_is_said_to_be(self):
        photo = self.add(pictures.jpeg())
        files.waiting(photo.key).unlink()
        assert self.run_job(photo)["state"] == "refused"


class SentAgainTests(PhotoCase):
    def test_the_same_file_in_the_same_batch_is_one_photo(self):
        batch = uuid.uuid4()
        first, again = (self.add(pictures.jpeg(), batch=batch) for _ in range(2))
        assert first == again
        assert Photo.objects.count() == Job.objects.count() == 1

    def test_another_file_batch_person_or_instrument_makes_another(self):
        batch = uuid.uuid4()
        self.add(pictures.jpeg(), batch=batch)
        self.add(pictures.png(), batch=batch)
        self.add(pictures.jpeg(), batch=uuid.uuid4())
        self.add(pictures.jpeg(), batch=batch, by=self.maud)
        self.add(pictures.jpeg(), batch=batch, instrument=cast.instrument(number="502"))
        self.add(pictures.jpeg())
        self.add(pictures.jpeg())
        assert Photo.objects.count() == 7


class NameTests(PhotoCase):
    def test_files_carry_our_own_names(self):
        odd = [
            "../../x",
            "n" * 300 + ".jpg",
            "CON",
            "🎹.jpg",
            "a\nb.jpg",
            "a.jpg.php",
            "\u202egpj.exe",
            "\0.jpg",
            "",
        ]
        for name in odd:
            with self.subTest(name[:12]):
                photo = self.add(pictures.jpeg(), name or "x")
                services.make_copies(photo)
                assert re.fullmatch(r"[0-9a-f]{32}\.jpg", files.copy(photo.key, 1600).name)
                assert len(photo.original_name) <= 255
                assert not set("\n\0\u202e/") & set(photo.original_name)
        inside = Path(settings.MEDIA_ROOT).resolve()
        assert not [
            path for path in inside.parent.rglob("x*") if path.is_file() and inside not in path.parents
        ]

    def test_what_waits_can_be_read_by_nobody_else(self):
        photo = self.add(pictures.jpeg())
        assert files.waiting(photo.key).stat().st_mode & 0o077 == 0
        assert files.waiting(photo.key).parent.stat().st_mode & 0o077 == 0
