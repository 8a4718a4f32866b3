"""The shop's own data, its cautions and its rests."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from shopflow.catalogue.models import Caution, Rest, Shop
from shopflow.catalogue.services.cautions import DEFERS
from tests import cast
from tests.page_forms import fill, form_with

pytestmark = pytest.mark.django_db
SHOP = "/set-up/shop/"


@pytest.fixture
def quillmere(db):
    return cast.shop()


def test_the_shops_data_are_kept_and_its_clock_is_used(office, quillmere):
    typed = {
        "name": "Quillmere Piano Works",
        "town": "Quillmere",
        "address": "Tide Row 4\nQuillmere",
        "time_zone": "Pacific/Auckland",
        "hands_on_share": "0.65",
        "report_readers": "maud@quillmere.example\n\n ottilie@quillmere.example ",
    }
    assert fill(office, SHOP, typed).status_code == 302
    kept = Shop.objects.get()
    assert (kept.town, kept.time_zone, kept.hands_on_share) == (
        "Quillmere",
        "Pacific/Auckland",
        Decimal("0.65"),
    )
    assert kept.report_readers == "maud@quillmere.example\nottilie@quillmere.example"
    assert kept.zone.key == "Pacific/Auckland"


def test_a_shop_that_was_never_set_up_is_made(office):
    assert fill(office, SHOP, {"name": "Harbour Pianos"}).status_code == 302
    assert Shop.objects.get().name == "Harbour Pianos"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": ""}, "required"),
        ({"time_zone": "Mars/Olympus"}, "not one of the available choices"),
        ({"time_zone": ""}, "required"),
        ({"hands_on_share": "0.05"}, "greater than or equal to 0.1"),
        ({"hands_on_share": "1.2"}, "less than or equal to 1"),
        ({"hands_on_share": "most"}, "Enter a number"),
        ({"report_readers": "maud@quillmere.example\nnobody"}, "“nobody” is not an e-mail address"),
        ({"name": "n" * 81}, "at most 80"),
    ],
)
def test_what_cannot_be_is_explained_and_what_was_typed_stays(office, quillmere, typed, said):
    before = Shop.objects.values().get()
    answer = fill(office, SHOP, typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page.replace("&#x27;", "'")
    assert Shop.objects.values().get() == before
    (name, value), *_ = typed.items()
    if name != "time_zone":
        assert form_with(page, "name")[1][name] == [value]


def test_the_second_of_two_who_change_the_shop_sees_both_versions(office, quillmere):
    _, fields = form_with(office.get(SHOP).content.decode(), "name")
    fill(office, SHOP, {"town": "Quillmere"})
    answer = office.post(SHOP, fields | {"name": ["Quillmere Pianos"]})
    assert answer.status_code == 409
    assert Shop.objects.get().name == "Quillmere Piano Works"


def test_an_empty_sheet_is_refused_not_taken_for_a_visit(office, quillmere):
    assert office.post(SHOP, {}).status_code == 409


# --- cautions ---


def test_a_caution_is_put_in_the_shops_own_words_and_still_defers(office, trade):
    url = reverse("catalogue:caution", args=["plate"])
    page = office.get(url)
    assert DEFERS not in form_with(page.content.decode(), "words")[1]["words"][0]
    assert page.content.decode().count("This is a reminder, not training") == 1
    assert fill(office, url, {"words": "Call Rowan before you hoist."}).status_code == 302
    assert Caution.objects.get(code="plate").text == f"Call Rowan before you hoist.\n\n{DEFERS}"


def test_the_deferring_line_is_there_once_even_when_it_is_typed_again(office, trade):
    url = reverse("catalogue:caution", args=["plate"])
    fill(office, url, {"words": f"Call Rowan.\n\n{DEFERS}"})
    assert Caution.objects.get(code="plate").text.count(DEFERS) == 1


def test_a_new_caution_defers_from_the_start(office, trade):
    fill(
        office,
        reverse("catalogue:new-caution"),
        {"title": "Steps to the loft", "words": "Hold on.", "figures": ""},
    )
    assert Caution.objects.get(code="steps-to-the-loft").text.endswith(DEFERS)


@pytest.mark.parametrize(
    ("typed", "said"),
    [({"words": " "}, "required"), ({"title": ""}, "required"), ({"words": "w" * 1100}, "at most")],
)
def test_a_caution_without_words_is_refused(office, trade, typed, said):
    before = Caution.objects.get(code="plate").text
    answer = fill(office, reverse("catalogue:caution", args=["plate"]), typed)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Caution.objects.get(code="plate").text == before


# --- rests ---


def test_a_rest_is_changed_with_where_the_figure_comes_from(office, trade):
    typed = {"hours_low": "240", "hours_likely": "336", "hours_high": "500", "basis": "our own booth, 2026"}
    assert fill(office, reverse("catalogue:rest", args=["lacquer"]), typed).status_code == 302
    kept = Rest.objects.get(code="lacquer")
    assert (kept.hours_low, kept.hours_likely, kept.basis) == (240, 336, "our own booth, 2026")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"hours_low": "900"}, "Hours: got 900 / 504.0 / 672.0"),
        ({"hours_low": "0"}, "greater than or equal to 0.1"),
        ({"hours_high": "20001"}, "less than or equal to 20000"),
        ({"hours_low": "soon"}, "Enter a number"),
        ({"basis": ""}, "required"),
    ],
)
def test_a_rest_that_cannot_be_is_explained(office, trade, typed, said):
    before = Rest.objects.filter(code="lacquer").values().get()
    answer = fill(office, reverse("catalogue:rest", args=["lacquer"]), typed)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Rest.objects.filter(code="lacquer").values().get() == before


def test_a_new_rest_is_there_for_operations(office, trade):
    typed = {"name": "Wax", "hours_low": "1", "hours_likely": "2", "hours_high": "3", "basis": "from memory"}
    fill(office, reverse("catalogue:new-rest"), typed)
    assert "Wax" in office.get(reverse("catalogue:operation", args=["clean-polish"])).content.decode()


def test_the_pages_ask_a_fixed_number_of_questions(office, trade, django_assert_num_queries):
    for name in ("cautions", "rests"):
        with django_assert_num_queries(4):  # session, person, shop, the list
            office.get(reverse(f"catalogue:{name}"))
    with django_assert_num_queries(14):
        office.get(reverse("catalogue:set-up"))
