"""Laying out an instrument's work on the office's pages, as plain forms and by htmx."""

from __future__ import annotations

from django.test import TestCase
from django.urls import reverse

from shopflow.catalogue.models import Route, RouteStep
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.services import layout
from tests import cast

HTMX = {"HTTP_HX_REQUEST": "true"}


class WorkCase(TestCase):
    def setUp(self):
        cast.shop()
        self.maud = cast.manager()
        self.piano = cast.instrument(by=self.maud, number="501")
        self.strip, self.colour, self.polish = (
            cast.operation(code) for code in ("strip", "colour", "polish")
        )
        cast.says(self.colour, also=["strip"], after=["strip"])
        cast.says(self.polish, also=["colour"], after=["colour"])
        self.client.force_login(self.maud)

    def url(self, name="work", *more):
        return reverse(f"workshop:{name}", args=["501", *more])

    def names(self):
        return [task.name for task in Task.objects.in_the_job().filter(instrument=self.piano)]

    def task(self, operation, **given):
        return cast.task(operation, on=self.piano, by=self.maud, **given)


class WhoMayTests(WorkCase):
    def test_only_the_office_lays_out_work(self):
        piece = self.task(self.strip)
        pages = [("work",), ("work-task", piece.pk)]
        deeds = [("work-route",), ("work-add",), ("state-add",), ("state-tie",)]
        deeds += [(f"work-{name}", piece.pk) for name in ("order", "assign", "tie", "untie", "parts", "drop")]
        for outsider in (cast.stranger(), cast.finisher()):
            self.client.force_login(outsider)
            for page in pages:
                assert self.client.get(self.url(*page)).status_code == 403
            for deed in deeds:
                assert self.client.post(self.url(*deed), {"reason": "no"}).status_code == 403
        assert self.names() == ["Strip"]

    def test_a_deed_is_never_done_by_looking(self):
        piece = self.task(self.strip)
        for name in ("order", "assign", "tie", "untie", "parts", "drop"):
            assert self.client.get(self.url(f"work-{name}", piece.pk)).status_code == 405

    def test_another_instruments_task_is_as_missing_as_none(self):
        other = cast.task(self.strip, on=cast.instrument(by=self.maud, number="77"), by=self.maud)
        for pk in (other.pk, 999999):
            assert self.client.get(self.url("work-task", pk)).status_code == 404
            for name in ("order", "assign", "tie", "untie", "parts", "drop"):
                assert self.client.post(self.url(f"work-{name}", pk), {"reason": "x"}).status_code == 404
        other.refresh_from_db()
        assert other.dropped_at is None


class StartTests(WorkCase):
    def setUp(self):
        super().setUp()
        self.route = Route.objects.create(code="A", name="Case only", kind="upright")
        for place, operation in enumerate((self.strip, self.colour)):
            RouteStep.objects.create(route=self.route, operation=operation, position=place)

    def test_a_route_lays_out_its_tasks(self):
        answer = self.client.post(self.url("work-route"), {"route": self.route.pk})
        self.assertRedirects(answer, self.url())
        assert self.names() == ["Strip", "Colour"]

    def test_by_htmx_the_list_comes_back_and_says_so(self):
        answer = self.client.post(self.url("work-route"), {"route": self.route.pk}, **HTMX)
        assert answer.status_code == 200
        assert "<html" not in answer.content.decode()
        assert "2 tasks are laid out" in answer.headers["HX-Trigger"]

    def test_a_second_route_is_refused_in_words(self):
        self.task(self.strip)
        answer = self.client.post(self.url("work-route"), {"route": self.route.pk})
        assert answer.status_code == 422
        assert self.names() == ["Strip"]

    def test_a_route_for_the_other_kind_is_not_among_the_choices(self):
        grand = Route.objects.create(code="B", name="Grand", kind="grand")
        assert self.client.post(self.url("work-route"), {"route": grand.pk}).status_code == 422


class AddTests(WorkCase):
    def add(self, operation, **given):
        return self.client.post(self.url("work-add"), {"operation": operation.pk, **given})

    def test_what_stands_alone_is_added_at_once(self):
        self.assertRedirects(self.add(self.strip, name="Strip the lid", note="only the lid"), self.url())
        assert self.names() == ["Strip the lid"]

    def test_the_same_sending_twice_adds_one_task_and_says_why(self):
        assert self.add(self.strip, newest=0).status_code == 302
        again = self.add(self.strip, newest=0)
        self.assertContains(again, "A task was added since this page was opened", status_code=422)
        assert self.names() == ["Strip"]
        newest = str(Task.objects.get().pk)
        self.assertContains(again, f'name="newest" value="{newest}"', status_code=422)
        assert self.add(self.strip, newest=newest).status_code == 302

    def test_what_comes_with_it_is_shown_first_through_all_steps(self):
        answer = self.add(self.polish, note="by hand")
        assert [one.name for one in answer.context["add_form"].wanted.besides] == ["Strip", "Colour"]
        self.assertContains(answer, "“Polish” does not come alone. Look, then say yes.", status_code=422)
        self.assertContains(answer, "by hand", status_code=422)
        assert self.names() == []

    def test_with_a_yes_all_come_together_tied_in_order_each_with_its_reason(self):
        self.add(self.polish, sure="on", note="to a shine")
        assert self.names() == ["Strip", "Colour", "Polish"]
        ties = set(TaskNeed.objects.values_list("needs__name", "task__name"))
        assert ties == {("Strip", "Colour"), ("Colour", "Polish")}
        assert all(TaskNeed.objects.values_list("reason", flat=True))
        assert Task.objects.get(name="Colour").why == "“Colour” always goes with “Polish” here"
        assert [Task.objects.get(name=name).why for name in ("Strip", "Polish")][1] == ""
        page = self.client.get(self.url())
        self.assertContains(page, "“Colour” always goes with “Polish” here")
        self.assertContains(page, "after Colour (the shop&#x27;s own wish)")

    def test_what_is_in_the_job_does_not_come_again(self):
        self.task(self.strip)
        answer = self.add(self.polish)
        assert [one.name for one in answer.context["add_form"].wanted.besides] == ["Colour"]

    def test_what_is_open_already_is_told_and_not_doubled(self):
        self.task(self.strip)
        answer = self.client.post(self.url("work-add"), {"operation": self.strip.pk}, follow=True)
        self.assertContains(answer, "In the job already: “Strip”.")
        assert self.names() == ["Strip"]

    def test_under_a_name_of_its_own_the_same_work_comes_twice(self):
        self.task(self.strip)
        self.add(self.strip, name="Strip the lid")
        assert self.names() == ["Strip", "Strip the lid"]

    def test_an_operation_not_done_on_this_kind_is_no_choice(self):
        only_grands = cast.operation("lyre", upright_low=None, upright_likely=None, upright_high=None)
        assert self.add(only_grands).status_code == 422

    def test_a_tie_by_hand_stays_and_what_the_piano_says_against_it_is_told(self):
        first, last = self.task(self.polish), self.task(self.colour)
        TaskNeed.objects.all().delete()
        layout.tie(task=last, needs=first, by=self.maud)
        self.add(self.strip)
        assert TaskNeed.objects.filter(task=last, needs=first).exists()
        against = self.client.get(self.url("state")).context["says"].against
        assert [(tie.earlier.name, tie.later.name) for tie in against] == [("Colour", "Polish")]


class ChangeTests(WorkCase):
    def setUp(self):
        super().setUp()
        operations = [self.strip, self.colour, self.polish]
        self.first, self.second, self.third = layout.lay_out(
            instrument=self.piano, operations=operations, by=self.maud
        )

    def post(self, name, piece, **given):
        return self.client.post(self.url(f"work-{name}", piece.pk), given)

    def test_up_and_down_in_the_order(self):
        self.post("order", self.third, places="-1")
        assert self.names() == ["Strip", "Polish", "Colour"]
        self.post("order", self.first, places="1")
        assert self.names() == ["Polish", "Strip", "Colour"]
        for odd in ("", "0", "x", "99999999999999999999", "1.5"):
            assert self.post("order", self.first, places=odd).status_code == 422

    def test_a_step_over_a_dropped_task_is_a_step(self):
        layout.drop_task(task=self.second, by=self.maud, reason="kept")
        self.post("order", self.third, places="-1")
        assert self.names() == ["Polish", "Strip"]

    def test_a_person_is_named_and_taken_off(self):
        finn = cast.finisher()
        self.assertRedirects(
            self.post("assign", self.first, person=finn.pk), self.url("work-task", self.first.pk)
        )
        self.first.refresh_from_db()
        assert self.first.person == finn
        self.post("assign", self.first, person="")
        self.first.refresh_from_db()
        assert self.first.person is None

    def test_nobody_who_does_not_work_here_is_named(self):
        for outsider in (cast.stranger(), cast.person("Gone Long", is_active=False)):
            assert self.post("assign", self.first, person=outsider.pk).status_code == 422

    def test_tie_and_untie(self):
        self.post("untie", self.third, needs=self.second.pk)
        assert not TaskNeed.objects.filter(task=self.third).exists()
        self.post("tie", self.third, needs=self.first.pk)
        assert TaskNeed.objects.get(task=self.third).needs == self.first

    def test_a_circle_is_refused_with_its_tasks(self):
        answer = self.post("tie", self.first, needs=self.third.pk)
        self.assertContains(answer, "“Strip” → “Colour” → “Polish” → “Strip”", status_code=422)

    def test_another_instruments_task_is_no_choice(self):
        other = cast.task(self.strip, on=cast.instrument(by=self.maud, number="77"), by=self.maud)
        assert self.post("tie", self.first, needs=other.pk).status_code == 422

    def test_dropping_needs_a_reason(self):
        for reason in ("", "   ", "\u200b"):
            assert self.post("drop", self.second, reason=reason).status_code == 422
        self.assertRedirects(self.post("drop", self.second, reason="kept as found"), self.url())
        assert self.names() == ["Strip", "Polish"]
        self.second.refresh_from_db()
        assert (self.second.dropped_reason, self.second.dropped_by) == ("kept as found", self.maud)

    def test_what_a_person_tied_through_it_stays_tied(self):
        TaskNeed.objects.update(reason="")
        self.post("drop", self.second, reason="kept as found")
        assert TaskNeed.objects.filter(task=self.third, needs=self.first).exists()

    def test_what_the_job_then_lacks_is_said_before_it_is_dropped(self):
        page = self.client.get(self.url("work-task", self.second.pk))
        self.assertContains(page, "“Colour” always goes with “Polish” here")
        page = self.client.get(self.url("work-task", self.third.pk))
        self.assertNotContains(page, "Without it the job is not whole")

    def test_what_is_signed_cannot_be_dropped(self):
        cast.walk(self.first, by=cast.finisher())
        answer = self.post("drop", self.first, reason="by mistake")
        self.assertContains(answer, "cannot be dropped", status_code=422)

    def test_by_htmx_only_the_piece_comes_back(self):
        url = self.url("work-tie", self.third.pk)
        answer = self.client.post(url, {"needs": self.first.pk}, **HTMX)
        assert answer.content.decode().lstrip().startswith('<div id="work-task"')
        refused = self.client.post(self.url("work-tie", self.first.pk), {"needs": self.third.pk}, **HTMX)
        assert refused.status_code == 422
        assert "<html" not in refused.content.decode()
