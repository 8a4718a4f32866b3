"""Taking data out: readable by anybody's program, harmless in a spreadsheet, noted."""

from __future__ import annotations

import asyncio
import csv
import io
import tracemalloc
import zipfile
from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.common import cells, clock
from shopflow.customers.models import Customer
from shopflow.reports.exports.files import as_csv
from shopflow.reports.exports.tables import TABLES, Table
from shopflow.reports.models import TakenOut
from shopflow.reports.views.exports import _awaited
from shopflow.workshop.models import HoursSpent
from shopflow.workshop.services import snags
from shopflow.workshop.services.intake import promise
from tests import cast

NOON = datetime(2026, 6, 24, 11, tzinfo=UTC)
FORMULA = "=+-@\t\r\n\0＝＋－＠"


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def work(maud):
    """Two instruments: one with two open tasks and a hostile owner, one with nothing to do."""
    owner = Customer.objects.create(name="=HYPERLINK(1)", email="a@quillmere.example", phone="+44 1")
    with clock.at(NOON):
        piano = cast.instrument(by=maud, number="301", maker="Åse & Sønn", serial="-1", customer=owner)
        one = cast.task(cast.operation("strip"), on=piano, by=maud)
        cast.task(cast.operation("sand"), on=piano, by=maud)
        cast.send(one, "stripped", by=maud)
        HoursSpent.objects.create(task=one, person=maud, hours=Decimal("1.50"), worked_on=date(2026, 6, 24))
        snags.raise_snag(
            task=one, cause="part", reason='a "quoted", split\nline', ask_again_on=clock.today(), by=maud
        )
        cast.instrument(by=maud, number="302")
    return piano


@pytest.fixture
def office(client, maud, work):
    client.force_login(maud)
    return client


def read(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def taken(client, what: str) -> bytes:
    answer = client.post(f"/exports/{what}/")
    assert answer.status_code == 200
    return b"".join(answer.streaming_content)


@pytest.mark.django_db
@pytest.mark.parametrize("what", [*TABLES, "everything"])
def test_a_stranger_and_a_bench_hand_take_nothing_out(client, work, what):
    url = f"/exports/{what}/"
    assert client.post(url)["Location"].startswith(reverse("people:sign-in"))
    for person in (cast.stranger(), cast.finisher()):
        client.force_login(person)
        assert client.post(url).status_code == 403
    assert not TakenOut.objects.exists()


@pytest.mark.django_db
def test_a_table_that_does_not_exist_is_not_there(office):
    assert office.post("/exports/passwords/").status_code == 404
    assert office.get("/exports/tasks/").status_code == 405
    assert not TakenOut.objects.exists()


@pytest.mark.django_db
def test_who_took_what_and_when_is_noted_and_shown(office, maud):
    with clock.at(NOON):
        taken(office, "customers")
    noted = TakenOut.objects.get()
    assert (noted.what, noted.by, noted.at) == ("customers", maud, NOON)
    assert "24 Jun 2026, 12:00" in office.get("/exports/").content.decode()


@pytest.mark.django_db
def test_instruments_on_hand_come_in_the_columns_in_which_they_are_brought_in(office):
    data = taken(office, "on-hand")
    assert data.startswith(
        b"\xef\xbb\xbfnumber,kind,maker,serial,year,size_cm,finish,alterations,fragile,place,"
    )
    assert data.count(b"\r\n") == data.count(b"\n") == 4
    rows = read(data)
    assert (
        list(rows[0])
        == (
            "number kind maker serial year size_cm finish alterations fragile place arrived_on promised_on "
            "customer customer_email customer_phone route task department stage hours_likely note"
        ).split()
    )
    assert [(row["number"], row["task"], row["stage"], row["hours_likely"]) for row in rows] == [
        ("301", "Strip", "stripped", "2.00"),
        ("301", "Sand", "on the rack", "2.00"),
        ("302", "", "", ""),
    ]
    assert rows[0]["maker"] == "Åse & Sønn"
    assert rows[0]["arrived_on"] == "2026-06-24"


@pytest.mark.django_db
def test_a_text_that_looks_like_a_formula_is_guarded_and_a_number_is_not(office):
    row = read(taken(office, "instruments"))[0]
    assert row["customer"] == "'=HYPERLINK(1)"
    assert row["serial"] == "'-1"
    assert row["customer_phone"] == "'+44 1"
    assert cells.plain(row["customer"]) == "=HYPERLINK(1)"
    assert row["year"] == "1904"


@pytest.mark.django_db
def test_every_promise_is_taken_out_with_the_day_it_took_the_place_of(office, maud, work):
    for on in (date(2026, 9, 1), date(2026, 9, 15)):
        work.refresh_from_db()
        promise(instrument=work, on=on, by=maud)
    rows = read(taken(office, "promises"))
    assert [(row["number"], row["promised_on"], row["instead_of"], row["by"]) for row in rows] == [
        ("301", "2026-09-01", "", "Maud Ferrier"),
        ("301", "2026-09-15", "2026-09-01", "Maud Ferrier"),
    ]


@pytest.mark.django_db
def test_every_table_holds_its_rows_under_its_heads(office):
    sizes = {"instruments": 2, "tasks": 2, "moves": 1, "passages": 2, "hours": 1, "snags": 1, "customers": 1}
    for what, size in sizes.items():
        rows = read(taken(office, what))
        assert len(rows) == size, what
        assert all(None not in row and None not in row.values() for row in rows), what
    assert read(taken(office, "snags"))[0]["reason"] == 'a "quoted", split\nline'
    assert read(taken(office, "hours"))[0]["hours"] == "1.50"
    # The shop's clock: noon by London's summer time.
    assert read(taken(office, "moves"))[0]["recorded_at"] == "2026-06-24T12:00:00+01:00"


@pytest.mark.django_db
def test_everything_is_one_zip_of_all_tables(office):
    with zipfile.ZipFile(io.BytesIO(taken(office, "everything"))) as bundle:
        assert bundle.testzip() is None
        assert bundle.namelist() == [f"{code}.csv" for code in TABLES]
        assert read(bundle.read("moves.csv"))[0]["to"] == "stripped"


@pytest.mark.django_db
def test_an_empty_shop_gives_tables_with_heads_alone(client):
    client.force_login(cast.manager())
    for what in TABLES:
        assert read(taken(client, what)) == []


@settings(max_examples=300, deadline=None)
@given(st.lists(st.text(), min_size=1, max_size=6))
def test_whatever_was_typed_is_read_back_and_never_begins_like_a_formula(texts):
    table = Table("t", "T", "", [f"c{k}" for k in range(len(texts))], lambda: iter([[texts]]))
    data = b"".join(as_csv(table, zone=UTC)).decode("utf-8-sig")
    _, cells_read = csv.reader(io.StringIO(data, newline=""))
    kept = [text.replace("\0", "").encode("utf-8", "replace").decode() for text in texts]
    assert [cells.plain(cell) for cell in cells_read] == kept
    assert not [cell for cell in cells_read if cell[:1] in FORMULA and cell]


@settings(max_examples=300)
@given(st.text(alphabet="'=+-@\t\0a＝", max_size=6))
def test_a_guard_can_be_taken_off_exactly(text):
    assert cells.plain(cells.guarded(text)) == text


@given(st.one_of(st.integers(), st.decimals(allow_nan=False, allow_infinity=False), st.dates()))
def test_numbers_and_days_stay_what_they_are(value):
    assert cells.written(value, zone=UTC) == str(value)


def many_rows(count: int) -> Iterator[list[list[str]]]:
    for _ in range(count // 500):
        yield [["x" * 100] * 10] * 500


def test_a_long_table_needs_no_more_memory_than_a_short_one():
    def peak(count: int) -> int:
        table = Table("t", "T", "", ["c"] * 10, lambda: many_rows(count))
        tracemalloc.start()
        for _ in as_csv(table, zone=UTC):
            pass
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    assert peak(10_000) < 1.3 * peak(1_000)


@pytest.mark.django_db
def test_a_long_table_is_read_batch_by_batch(django_assert_num_queries):
    Customer.objects.bulk_create(Customer(name=f"N{k}") for k in range(1100))
    with django_assert_num_queries(4):
        assert sum(1 for _ in as_csv(TABLES["customers"], zone=UTC)) == 4


def test_an_asynchronous_server_gets_it_piece_by_piece():
    fetched = []

    def pieces():
        for number in range(3):
            fetched.append(number)
            yield b"%d" % number

    async def first() -> bytes:
        async for piece in _awaited(pieces()):
            return piece
        return b""

    assert asyncio.run(first()) == b"0"
    assert fetched == [0]
