"""Whatever the answer is – page, refusal, fault, picture, file – it carries the same safe headers."""

from __future__ import annotations

import io
import logging
from unittest import mock

from django.http import HttpResponse
from django.test import Client, TestCase
from django.urls import reverse

from shopflow.common.logs import tell_who
from tests import cast
from tests.access_world import World

SECRET = "the shop's secret"
CSP = ("script-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'")


def broken(*args: object, **kwargs: object) -> HttpResponse:
    raise RuntimeError(SECRET)


class EveryAnswerTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.world = World()

    def setUp(self):
        self.lines = io.StringIO()
        handler = logging.StreamHandler(self.lines)
        handler.addFilter(tell_who)
        handler.setFormatter(logging.Formatter("%(levelname)s %(name)s: %(message)s"))
        logger = logging.getLogger("django")
        logger.addHandler(handler)
        self.addCleanup(logger.removeHandler, handler)
        self.form = reverse("workshop:take-in")
        self.office = self.world.browser("owner")
        self.office.raise_request_exception = False

    def answers(self) -> dict[int, HttpResponse]:
        office, anonymous = self.office, Client(enforce_csrf_checks=True)
        with mock.patch("shopflow.workshop.views.floor.whole_floor", broken):
            fault = office.get("/floor/")
        return {
            200: office.get("/floor/"),
            302: anonymous.get("/floor/"),
            400: office.post(self.form, b"x", content_type="multipart/form-data; boundary=\x01"),
            403: anonymous.post("/sign-in/", {}),
            404: office.get("/no-such-page/"),
            405: office.get(f"/tasks/{self.world.task.pk}/move/"),
            413: self.too_many(),
            422: office.post(self.form, {}),
            500: fault,
        }

    def too_many(self) -> HttpResponse:
        return self.office.post(self.form, {f"field{n}": 1 for n in range(1_001)})

    def test_all_kinds_carry_the_safe_headers(self):
        picture = self.office.get(f"/photos/{self.world.photo.key}/400.jpg")
        file = self.office.post("/exports/instruments/")
        for code, answer in [*self.answers().items(), (200, picture), (200, file)]:
            with self.subTest(code=code):
                assert answer.status_code == code
                assert answer.headers["X-Content-Type-Options"] == "nosniff"
                assert answer.headers["X-Frame-Options"] == "DENY"
                assert answer.headers["Referrer-Policy"] == "same-origin"
                assert "no-store" in answer.headers["Cache-Control"]
                assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]

    def test_pages_run_nothing_but_the_shops_own_scripts(self):
        for code, answer in self.answers().items():
            policy = answer.headers["Content-Security-Policy"]
            assert all(rule in policy for rule in CSP), code
            assert "unsafe" not in policy

    def test_a_file_of_the_shops_own_is_kept_by_browsers_but_runs_nothing_else(self):
        answer = self.office.get("/static/css/base.css")
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]
        assert "no-store" not in answer.headers["Cache-Control"]

    def test_no_answer_tells_of_the_inside(self):
        for code, answer in self.answers().items():
            said = answer.content.decode()
            assert not [word for word in (SECRET, "Traceback", "site-packages", ".py") if word in said], code

    def test_too_much_at_once_is_told_with_the_limit_and_in_one_line_of_the_log(self):
        self.assertContains(self.too_many(), "At most 1,000 fields", status_code=413)
        (line,) = self.lines.getvalue().splitlines()
        assert "TooManyFieldsSent" in line
        assert f"POST {self.form}" in line

    def test_a_fault_of_our_own_keeps_its_trace_in_the_log(self):
        with mock.patch("shopflow.workshop.views.floor.whole_floor", broken):
            self.office.get("/floor/")
        assert SECRET in self.lines.getvalue()
        assert "Traceback" in self.lines.getvalue()

    def test_what_somebody_may_not_do_is_one_line_of_the_log(self):
        self.world.browser("hand").get(self.form)
        (line,) = self.lines.getvalue().splitlines()
        assert f"person {self.world.people['hand'].pk}" in line

    def test_a_refusal_names_its_person_and_forges_no_line(self):
        self.office.get("/floor/")
        self.office.get("/no\nINFO such/")
        (line,) = self.lines.getvalue().splitlines()
        assert f"person {self.world.people['owner'].pk}" in line


class CookieTests(TestCase):
    def test_no_script_and_no_other_site_gets_at_who_is_signed_in(self):
        cast.person("Ada Lund", password="lyre-bridge-clover-31")
        typed = {"sign_in_name": "ada-lund", "password": "lyre-bridge-clover-31"}
        cookie = self.client.post("/sign-in/", typed).cookies["sessionid"]
        assert cookie["httponly"]
        assert cookie["samesite"] == "Lax"
