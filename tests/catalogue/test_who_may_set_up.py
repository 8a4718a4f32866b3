"""The set-up is the office's: everybody else is sent to sign in or turned away, on every page and deed."""

from __future__ import annotations

import pytest
from django.urls import reverse

from shopflow.catalogue.models import Department, RouteStep, Stage, StateLine, StepLine
from shopflow.catalogue.urls import urlpatterns
from tests import cast


def address(pattern):
    """A real address for each page of the set-up, of rows that the trade's catalogue has."""
    name = pattern.name
    codes = {
        "department": "plating",
        "operation": "strip",
        "route": "A",
        "step": "A",
        "caution": "lead",
        "rest": "pva",
        "material": "M1",
        "finding": "CA1",
        "remedy": "CA1-veneer-repair",
    }
    wanted = {
        "new-stage": "plating",
        "new-operation": "plating",
        "new-step": "A",
        "new-remedy": "CA1",
        "operation-state": "strip",
    }
    converters = pattern.pattern.converters
    given = {}
    if "code" in converters:
        given["code"] = wanted.get(name) or codes[name.removesuffix("-button")]
    if "pk" in converters:
        rows = {"line": StateLine, "work-steps": StepLine, "step-button": RouteStep}.get(name, Stage)
        given["pk"] = rows.objects.order_by("pk").first().pk
    if "button" in converters:
        given["button"] = "drop" if name.startswith("step") else "retire"
    return reverse(f"catalogue:{name}", kwargs=given)


EVERY_PAGE = pytest.mark.parametrize("pattern", urlpatterns, ids=lambda pattern: pattern.name)
POST_ONLY = {"new-step", *(pattern.name for pattern in urlpatterns if pattern.name.endswith("-button"))}

ONLY_LOOKED_AT = {
    "set-up",
    "departments",
    "operations",
    "routes",
    "cautions",
    "rests",
    "materials",
    "findings",
    "lines",
}


@EVERY_PAGE
def test_whoever_is_not_signed_in_is_sent_to_the_door(client, trade, pattern):
    method = client.post if pattern.name in POST_ONLY else client.get
    answer = method(address(pattern))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("people:sign-in"))


@EVERY_PAGE
@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
def test_strangers_and_bench_hands_are_turned_away(client, trade, pattern, who):
    client.force_login(who(**({"home": Department.objects.first()} if who is cast.finisher else {})))
    if pattern.name not in POST_ONLY:
        assert client.get(address(pattern)).status_code == 403
    assert client.post(address(pattern)).status_code == (405 if pattern.name in ONLY_LOOKED_AT else 403)
    assert not Department.objects.exclude(retired_at=None).exists()


@EVERY_PAGE
def test_the_office_sees_every_page(office, trade, pattern):
    if pattern.name in POST_ONLY:
        assert office.get(address(pattern)).status_code == 405
    else:
        assert office.get(address(pattern)).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "departments/nowhere/",
        "departments/plating/burn/",
        "stages/999999/",
        "operations/nothing/",
        "operations/nothing/state/",
        "lines/999999/",
        "work-steps/999999/",
        "operations/strip/move/",
        "routes/Z/",
        "cautions/none/",
        "rests/none/",
    ],
)
def test_what_is_not_there_is_404(office, trade, path):
    method = office.post if path.endswith(("burn/", "move/")) else office.get
    assert method(f"/set-up/{path}").status_code == 404


def test_the_door_leads_to_everything(office, trade):
    page = office.get(reverse("catalogue:set-up")).content.decode()
    for name in ("shop", "departments", "operations", "routes", "rests", "cautions", "lines"):
        assert f'href="{reverse(f"catalogue:{name}")}"' in page
    assert "126" in page
