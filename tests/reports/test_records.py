"""Finding any instrument that was ever here."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.urls import reverse

from shopflow.common import clock
from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from tests import cast

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


@pytest.fixture
def pianos():
    cast.shop()
    owner = Customer.objects.create(name="Perdita Vane-Quist")
    day = date(2026, 5, 4)
    facts = [
        {"number": "301", "maker": "Bexcombe", "serial": "40117", "year_built": 1904, "arrived_on": day},
        {"number": "302", "maker": "Thistledown", "serial": "9", "kind": "grand", "arrived_on": day},
        {"number": "303", "maker": "Oldacre", "serial": "77", "customer": owner},
    ]
    facts[1] |= {"finished_on": date(2026, 12, 30), "left_on": date(2027, 1, 4)}
    return [Instrument.objects.create(**({"kind": "upright"} | given)) for given in facts]


@pytest.fixture
def office(client, pianos):
    client.force_login(cast.manager())
    return client


def found(client, query: str) -> list[str]:
    said = client.get(f"/records/?{query}").content.decode()
    return [number for number in ("301", "302", "303") if f'/instruments/{number}/"' in said]


def test_a_stranger_is_refused_and_nobody_is_led_to_the_door(client, pianos):
    assert client.get("/records/")["Location"].startswith(reverse("people:sign-in"))
    client.force_login(cast.stranger())
    assert client.get("/records/").status_code == 403


@pytest.mark.parametrize(
    ("query", "numbers"),
    [
        ("", ["301", "302", "303"]),
        ("search=302", ["302"]),
        ("search=bexcombe+40117", ["301"]),
        ("search=bexcombe+9", []),
        ("search=1904", ["301"]),
        ("search=grand", ["302"]),
        ("where=here", ["301"]),
        ("where=finished", ["302"]),
        ("where=left", ["302"]),
        ("where=awaited", ["303"]),
        ("where=nowhere", ["301", "302", "303"]),
        ("year=nonsense", ["301", "302", "303"]),
        ("search=%00%E2%80%8B", ["301", "302", "303"]),
    ],
)
def test_a_search_finds_what_fits_every_word(office, query, numbers):
    assert found(office, query) == numbers


def test_an_owners_name_finds_the_instrument_for_the_office_alone(office, client, pianos):
    assert found(office, "search=vane-quist") == ["303"]
    client.force_login(cast.finisher())
    assert found(client, "search=vane-quist") == []
    said = client.get("/records/").content.decode()
    assert "303" in said
    assert "Vane-Quist" not in said


def test_finished_in_a_year_means_its_iso_year(office):
    """Week 53 of 2026 ends on 3 January 2027; 30 December 2026 lies in it."""
    with clock.at(datetime(2027, 2, 1, tzinfo=UTC)):
        by = cast.manager("Nell Harker")
    with clock.at(datetime(2026, 5, 4, 9, tzinfo=UTC)):
        cast.instrument(by=by, number="400")
    with clock.at(datetime(2027, 2, 1, tzinfo=UTC)):
        assert found(office, "year=2026") == ["302"]
        assert found(office, "year=2027") == []


def test_a_search_by_htmx_answers_with_the_table_alone(office):
    said = office.get("/records/?search=302", headers=HTMX).content.decode()
    assert said.lstrip().startswith('<section id="records"')


def test_what_was_searched_stands_again_in_its_field_and_in_the_pager(office):
    Instrument.objects.bulk_create(
        Instrument(number=f"N{k}", kind="upright", maker='"><script>') for k in range(60)
    )
    said = office.get("/records/?search=%22%3E%3Cscript%3E&where=awaited").content.decode()
    assert '"><script>' not in said.replace('value=""', "")
    assert "search=%22%3E%3Cscript%3E&amp;where=awaited&amp;page=2" in said
    assert "1–50 of 60" in said


def test_nothing_found_is_said_with_a_way_back(office):
    assert b"Nothing fits" in office.get("/records/?search=zzz").content


def test_the_number_of_queries_does_not_grow_with_the_records(office, django_assert_max_num_queries):
    with django_assert_max_num_queries(9) as few:
        office.get("/records/")
    Instrument.objects.bulk_create(Instrument(number=f"M{k}", kind="upright") for k in range(1000))
    with django_assert_max_num_queries(len(few)):
        assert b"1003 instruments" in office.get("/records/").content
