"""The library of findings and remedies: added, changed, put in order, retired, brought back."""

from __future__ import annotations

import pytest
from django.urls import reverse

from shopflow.catalogue.knowledge import knowledge_data
from shopflow.catalogue.models import ComponentGroup, FindingKind, Operation, Remedy
from shopflow.catalogue.services import conditions
from shopflow.people.access import NotAllowed
from tests import cast
from tests.page_forms import fill

pytestmark = pytest.mark.django_db
LIST, NEW = reverse("catalogue:findings"), reverse("catalogue:new-finding")


def page(code="SB2"):
    return reverse("catalogue:finding", args=[code])


def remedy_page(code="SB2-crack-fill"):
    return reverse("catalogue:remedy", args=[code])


def press(office, name, code, button, **sent):
    return office.post(reverse(f"catalogue:{name}-button", args=[code, button]), sent)


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
def test_only_the_office_changes_the_library(trade, who):
    by, kind, remedy = who(), FindingKind.objects.first(), Remedy.objects.first()
    facts = {name: getattr(kind, name) for name in conditions.KIND_FACTS}
    for deed in (
        lambda: conditions.add_finding_kind(by=by, **facts),
        lambda: conditions.change_finding_kind(finding_kind=kind, by=by, **facts),
        lambda: conditions.retire_finding_kind(finding_kind=kind, by=by),
        lambda: conditions.bring_back_finding_kind(finding_kind=kind, by=by),
        lambda: conditions.move_remedy(remedy=remedy, places=1, by=by),
        lambda: conditions.retire_remedy(remedy=remedy, by=by),
        lambda: conditions.bring_back_remedy(remedy=remedy, by=by),
    ):
        with pytest.raises(NotAllowed):
            deed()


def test_the_list_shows_every_group_in_few_queries(office, trade, django_assert_max_num_queries):
    with django_assert_max_num_queries(8):
        answer = office.get(LIST)
    assert sum(len(kinds) for _, kinds in answer.context["groups"]) == 60


def test_a_kind_of_finding_and_its_remedy_are_added(office, trade):
    group = ComponentGroup.objects.get(code="case")
    typed = {
        "group": group.pk,
        "name": "Lid warped",
        "usual_severity": "2",
        "looks": "2",
        "if_left": "It stays so.",
    }
    assert fill(office, NEW, typed, has="plain_words").status_code == 302
    made = FindingKind.objects.get(name="Lid warped")
    assert (made.code, made.looks, made.tone, made.basis) == ("lid-warped", 2, 0, "the shop’s own")
    new = reverse("catalogue:new-remedy", args=[made.code])
    nothing = fill(office, new, {"name": "Press it flat", "cures": "80"}, has="cures")
    assert nothing.status_code == 422
    operations = [str(Operation.objects.get(code="case-reglue").pk)]
    sent = {"name": "Press it flat", "cures": "80", "operations": operations}
    assert fill(office, new, sent, has="cures").status_code == 302
    assert [one.code for one in made.remedies.get().operations.all()] == ["case-reglue"]


@pytest.mark.parametrize(
    ("field", "typed"), [("usual_severity", "5"), ("usual_severity", "-3"), ("tone", "4"), ("name", "")]
)
def test_a_kind_out_of_range_is_refused(office, trade, field, typed):
    assert fill(office, page(), {field: typed}, has="plain_words").status_code == 422
    assert FindingKind.objects.get(code="SB2").basis != "the shop’s own"


@pytest.mark.parametrize("typed", ["0", "101", "-3", "1e400", "NaN", "1,5"])
def test_a_share_that_cannot_be_is_refused(office, trade, typed):
    assert fill(office, remedy_page(), {"cures": typed}, has="cures").status_code == 422
    assert Remedy.objects.get(code="SB2-crack-fill").cures == 60


def test_a_remedy_is_changed_moved_retired_and_brought_back(office, trade):
    assert fill(office, remedy_page(), {"cures": "70"}, has="cures").status_code == 302
    assert Remedy.objects.get(code="SB2-crack-fill").cures == 70
    assert press(office, "remedy", "SB2-crack-fill", "move", places="1").status_code == 302
    assert [one.code for one in Remedy.objects.filter(finding_kind__code="SB2")] == [
        "SB2-beneath",
        "SB2-crack-shim",
        "SB2-crack-fill",
    ]
    press(office, "remedy", "SB2-crack-fill", "retire")
    assert Remedy.objects.get(code="SB2-crack-fill").retired_at
    assert press(office, "remedy", "SB2-crack-fill", "move", places="1").status_code == 422
    press(office, "remedy", "SB2-crack-fill", "bring-back")
    assert Remedy.objects.get(code="SB2-crack-fill").retired_at is None


def test_a_kind_is_retired_and_brought_back(office, trade):
    assert press(office, "finding", "SB2", "retire").status_code == 302
    assert "surveys offer it no more" in office.get(page()).content.decode()
    press(office, "finding", "SB2", "bring-back")
    assert FindingKind.objects.get(code="SB2").retired_at is None
    assert press(office, "finding", "SB2", "explode").status_code == 404


def test_the_second_writer_is_told(office, trade):
    form = office.get(remedy_page()).context["form"]
    Remedy.objects.filter(code="SB2-crack-fill").update(cures=33)
    sent = {"name": "Fill the crack", "kind": "repair", "cures": "60", "seen": form.fingerprint}
    answer = office.post(remedy_page(), sent)
    assert answer.status_code == 409
    assert Remedy.objects.get(code="SB2-crack-fill").cures == 33


def test_what_a_finding_stops_and_forbids_is_kept(office, trade):
    ivory = str(Operation.objects.get(code="keytops-new").pk)
    typed = {"stops": "played", "forbids": [ivory]}
    assert fill(office, page("KE1"), typed, has="plain_words").status_code == 302
    kept = FindingKind.objects.get(code="KE1")
    assert (kept.stops, [one.code for one in kept.forbids.all()]) == ("played", ["keytops-new"])
    assert fill(office, page("KE1"), {"stops": "the clock"}, has="plain_words").status_code == 422


def test_a_remedy_takes_more_in_one_kind_of_piano(office, trade):
    straps = str(Operation.objects.get(code="straps-new").pk)
    url = remedy_page("AC7-shanks-new")
    assert fill(office, url, {"besides_upright": [straps]}, has="cures").status_code == 302
    assert knowledge_data()["remedies"]["AC7-shanks-new"] == {
        "upright": ["shanks-new", "straps-new"],
        "grand": ["shanks-new"],
    }
