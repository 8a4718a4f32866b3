"""The pages on which a shop brings what it has: who may, what they answer, what counts once."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Move, Passage, Task
from shopflow.workshop.services.bringing import keeping
from shopflow.workshop.services.bringing.reading import MOST_BYTES
from tests import cast

from .files import CHOOSE, of, table, upload

pytestmark = pytest.mark.django_db
EXAMPLE = settings.BASE_DIR / "fixtures" / "example-instruments.csv"
FOLDER = Path(settings.DATA_DIR) / "bringing"
ASKING = of({"number": "501", "kind": "grand", "insured": "900"})


def text(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def waiting():
    return sorted(FOLDER.iterdir()) if FOLDER.exists() else []


def addresses(key="x" * 32):
    return [
        CHOOSE,
        reverse("workshop:bring-look", args=[key]),
        reverse("workshop:bring-leave", args=[key]),
        reverse("workshop:brought", args=[key]),
        reverse("workshop:bring-example"),
    ]


# --- who ---


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
def test_strangers_and_bench_hands_are_turned_away_and_leave_nothing(client, who, maud):
    before = waiting()
    client.force_login(who())
    assert {client.get(url).status_code for url in addresses() if "leave" not in url} == {403}
    assert upload(client, EXAMPLE.read_bytes()).status_code == 403
    assert {client.post(url).status_code for url in addresses()[1:3]} == {403}
    assert waiting() == before


def test_whoever_is_not_signed_in_is_sent_to_the_door(client, db):
    for url in addresses():
        answer = client.post(url) if "leave" in url else client.get(url)
        assert answer["Location"].startswith(reverse("people:sign-in"))


def test_a_manager_by_pin_brings_nothing(client, maud):
    assert upload(cast.by_pin(client, maud), EXAMPLE.read_bytes()).status_code == 403


def test_somebody_elses_file_is_not_there(office, client, maud):
    key = keeping.keep(data=ASKING, name="list.csv", by=maud)
    client.force_login(cast.owner())
    for url in addresses(key)[1:4]:
        answer = client.post(url) if "leave" in url else client.get(url)
        assert answer.status_code == 404
    assert client.post(reverse("workshop:bring-look", args=[key])).status_code == 404
    assert keeping.kept(key, by=maud).data == ASKING
    assert client.get(CHOOSE + "../../secret/").status_code == 404


def test_the_records_lead_here_only_those_who_may(client, maud):
    client.force_login(maud)
    assert f'href="{CHOOSE}"' in client.get(reverse("reports:records")).content.decode()
    client.force_login(cast.finisher())
    assert f'href="{CHOOSE}"' not in client.get(reverse("reports:records")).content.decode()


# --- the example ---


def test_the_example_is_handed_out_and_comes_in(office):
    handed_out = office.get(reverse("workshop:bring-example")).content
    assert handed_out == EXAMPLE.read_bytes()
    look = upload(office, handed_out)
    assert look.status_code == 303
    assert "12 instruments" in text(office.get(look["Location"]))
    done = office.post(look["Location"])
    assert done.status_code == 303
    page = office.get(done["Location"])
    assert "12 instruments brought in" in text(page)
    assert "88 open tasks" in text(page)
    assert reverse("workshop:instrument", args=["501"]) in page.content.decode()
    standing = Task.objects.exclude(stage__kind="racked").values_list("instrument__number", "stage__name")
    assert ("502", "built up") in standing
    assert Passage.objects.filter(kind="arrived").count() == Instrument.objects.count() == 12


def test_every_column_is_explained_on_the_page_and_stands_in_the_example(office):
    page = office.get(CHOOSE).content.decode()
    head = EXAMPLE.read_text(encoding="utf-8").splitlines()[0].split(",")
    assert re.findall(r'<th scope="row">(\w+)', page) == head


# --- from the file to the deed ---


def test_faults_are_answered_at_once_and_the_file_is_not_kept(office):
    before = waiting()
    answer = upload(office, table("501,pianola", "502,grand,=2+5"), "may<b>.csv")
    assert answer.status_code == 422
    assert "Nothing was brought in from may&lt;b&gt;.csv" in text(answer)
    row = next(
        row for row in re.findall(r"<tr>.*?</tr>", answer.content.decode(), re.DOTALL) if "pianola" in row
    )
    assert (
        re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", row)).split()
        == "Line 2 kind pianola upright or grand".split()
    )
    assert waiting() == before


@pytest.mark.parametrize(
    ("data", "status", "words"),
    [
        (b"", 422, "empty"),
        (b"%PDF-1.7", 422, "a PDF"),
        (b'number,kind\n501,"grand\n', 422, "never closed"),
        (b"number,kind\n" + b"1,grand\n" * 20_001, 413, "more than 20,000 rows"),
        (b"x" * (MOST_BYTES + 1), 413, "allowed are 5 MB"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(office, data, status, words):
    answer = upload(office, data)
    assert answer.status_code == status
    assert words in text(answer)


def test_no_file_is_asked_for(office):
    answer = office.post(CHOOSE)
    assert answer.status_code == 422
    assert "Choose a file first." in text(answer)


def test_an_open_question_is_asked_again_with_what_was_answered_kept(office):
    look = upload(office, ASKING)["Location"]
    page = office.get(look)
    assert "Tick this to go on" not in text(page)
    again = office.post(look, {"columns": "something else"})
    assert again.status_code == 422
    assert "Tick this to go on" in text(again)
    assert not Instrument.objects.exists()
    tick = re.search(r'name="columns" value="(\w+)"', page.content.decode())[1]
    assert office.post(look, {"columns": tick}).status_code == 303
    assert Instrument.objects.count() == 1


def test_the_same_sending_twice_brings_once_and_leads_to_the_same_page(office):
    look = upload(office, EXAMPLE.read_bytes())["Location"]
    first, second = office.post(look), office.post(look)
    assert first["Location"] == second["Location"] == office.get(look)["Location"]
    assert (Instrument.objects.count(), Task.objects.count()) == (12, 88)
    assert Move.objects.count() == len(set(Move.objects.values_list("key", flat=True)))


def test_the_file_goes_after_use_and_when_it_is_left(office):
    before = waiting()
    look = upload(office, EXAMPLE.read_bytes())["Location"]
    assert len(waiting()) == len(before) + 1
    office.post(look)
    assert waiting() == before
    look = upload(office, of({"number": "900", "kind": "grand"}))["Location"]
    assert "let go" in text(office.post(look + "leave/", follow=True))
    assert office.get(look).status_code == 404
    assert waiting() == before


def test_a_file_that_nobody_came_back_for_is_gone_after_a_day(office, maud):
    key = keeping.keep(data=ASKING, name="list.csv", by=maud)
    path = FOLDER / f"{maud.pk}-{key}"
    assert path.stat().st_mode & 0o077 == 0
    old = path.stat().st_mtime - keeping.KEEP_SECONDS - 60
    os.utime(path, (old, old))
    assert office.get(reverse("workshop:bring-look", args=[key])).status_code == 404
    assert keeping.forget_old() >= 1
    assert not path.exists()


def test_a_number_taken_between_look_and_deed_brings_nothing_and_is_said(office, maud):
    look = upload(office, of({"number": "501", "kind": "grand"}, {"number": "502", "kind": "grand"}))[
        "Location"
    ]
    cast.instrument(by=maud, number="502")
    answer = office.post(look)
    assert answer.status_code == 422
    assert "known here already" in text(answer)
    assert not Instrument.objects.filter(number="501").exists()


def test_what_stands_in_cells_is_shown_as_text(office):
    evil = {
        "number": "501",
        "kind": "grand",
        "maker": "<script>x</script>",
        "customer": "{{ 7*7 }}=HYPERLINK()",
    }
    page = office.get(upload(office, of(evil))["Location"]).content.decode()
    assert "&lt;script&gt;" in page
    assert "<script>x" not in page
    assert "{{ 7*7 }}=HYPERLINK()" in page


def test_the_first_ten_are_shown_and_the_rest_counted(office):
    page = office.get(upload(office, table(*[f"{n},grand" for n in range(501, 541)]))["Location"])
    assert text(page).count(" grand ") == 10
    assert "And 30 more instruments" in text(page)
