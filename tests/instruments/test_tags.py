"""What a tag's QR code holds, and that its drawing is the code itself."""

from __future__ import annotations

import re

import pytest
import segno
from django.test import RequestFactory

from shopflow.instruments.selectors.crates import number_in
from shopflow.instruments.tags import QUIET, address_on_tag, qr_path


@pytest.mark.parametrize("words", ["/crates/31/", "http://shop.example:8000/crates/99999/", "x" * 300])
def test_the_drawing_has_a_dark_square_wherever_the_code_has_one(words):
    path, side = qr_path(words)
    dark = {
        (int(x) + step, int(y))
        for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path)
        for step in range(int(length))
    }
    rows = [list(row) for row in segno.make(words, error="m", micro=False).matrix]
    assert side == len(rows) + 2 * QUIET
    assert dark == {
        (x + QUIET, y + QUIET) for y, row in enumerate(rows) for x, is_dark in enumerate(row) if is_dark
    }


@pytest.mark.parametrize(
    ("host", "held"),
    [
        ("shop.example", "http://shop.example/crates/31/"),
        ("192.168.1.20:8000", "http://192.168.1.20:8000/crates/31/"),
        ("localhost:8000", "/crates/31/"),
        ("127.0.0.1", "/crates/31/"),
        ("[::1]:8000", "/crates/31/"),
    ],
)
def test_it_holds_the_address_that_a_tablet_can_reach_and_finding_takes_it_back(host, held, settings):
    settings.ALLOWED_HOSTS = ["*"]
    request = RequestFactory().get("/", headers={"Host": host})
    assert address_on_tag(request, "/crates/31/") == held
    assert number_in(held) == 31
