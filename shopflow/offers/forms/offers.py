"""What is typed to make, change, send and settle an offer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django import forms

from shopflow.catalogue.models import Remedy
from shopflow.common import clock
from shopflow.common.forms import DayField, LineField, NoteField
from shopflow.instruments.models import Finding
from shopflow.instruments.selectors import CurrentFinding
from shopflow.instruments.selectors.safety import is_unsafe
from shopflow.offers.frozen import money
from shopflow.offers.models import Offer, Option, OptionFinding, Scope, Treatment
from shopflow.offers.services.drafting import Bench
from shopflow.offers.services.freezing import letter_of
from shopflow.offers.services.wording import DraftWords, LeftWords, OptionWords

from .money import MoneyField

LEAVE, BY_HAND = "leave", "hand"
KEY = r"^[A-Za-z0-9_\-]{8,64}\Z"


class NewOfferForm(forms.Form):
    """From which ways to go a draft is made."""

    key = forms.RegexField(KEY, widget=forms.HiddenInput)
    levels = forms.MultipleChoiceField(
        label="Of the usual ways",
        choices=Option.Level.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    scopes = forms.ModelMultipleChoiceField(
        label="Of the scopes that were weighed",
        queryset=Scope.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, scopes: Sequence[Scope], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["scopes"]
        field.queryset = Scope.objects.filter(pk__in=[one.pk for one in scopes])
        if not scopes:
            del self.fields["scopes"]


class EditionForm(forms.Form):
    """Which edition of a draft was seen."""

    edition = forms.IntegerField(min_value=1, max_value=2**31 - 1, widget=forms.HiddenInput)


class AddOptionForm(EditionForm):
    way = forms.CharField(max_length=40)


class ObjectionForm(EditionForm):
    """Why something stays that a rebuilder would object to."""

    words = forms.CharField(max_length=400, widget=forms.HiddenInput)
    reason = LineField(label="Why it stays so", max_length=300)


class DraftForm(EditionForm):
    """Words and terms of the whole offer."""

    words = NoteField(label="To the customer", max_length=3000, required=False, rows=4)
    value_words = NoteField(
        label="About value, and when not to do it",
        max_length=1500,
        required=False,
        rows=3,
        help_text="Labour costs the same on a plain and on a famous piano; what it means to a family counts.",
    )
    holds_until = DayField(label="Prices hold until")
    deposit = MoneyField(label="Deposit asked with the yes", required=False)
    recommended = forms.TypedChoiceField(
        label="We recommend", coerce=int, empty_value=None, required=False, widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, offer: Offer, options: Sequence[Option], **kwargs: Any) -> None:
        kwargs.setdefault("initial", _draft_initial(offer, options))
        super().__init__(*args, **kwargs)
        field: Any = self.fields["recommended"]
        field.choices = [("", "none of them")] + [
            (str(one.pk), f"{letter_of(place)}. {one.name}") for place, one in enumerate(options)
        ]
        days: Any = self.fields["holds_until"]
        days.least, days.most = clock.today(), clock.today() + timedelta(days=366)

    def wanted(self, options: Mapping[int, OptionWords]) -> DraftWords:
        typed = self.cleaned_data
        return DraftWords(
            words=typed["words"],
            value_words=typed["value_words"],
            holds_until=typed["holds_until"],
            deposit=typed["deposit"] or Decimal(0),
            recommended=typed["recommended"],
            options=options,
        )


def _draft_initial(offer: Offer, options: Sequence[Option]) -> dict[str, Any]:
    chosen = next((one.pk for one in options if one.is_recommended), None)
    return {
        "edition": offer.edition,
        "words": offer.words,
        "value_words": offer.value_words,
        "holds_until": offer.holds_until,
        "deposit": offer.deposit,
        "recommended": str(chosen) if chosen else "",
    }


@dataclass(frozen=True, slots=True)
class FindingFields:
    """One finding in the form of an option."""

    one: CurrentFinding
    row: OptionFinding | None
    remedy: forms.BoundField
    reason: forms.BoundField
    expect: forms.BoundField
    can_wait: forms.BoundField

    @property
    def is_required(self) -> bool:
        return is_unsafe(self.one)

    @property
    def is_left(self) -> bool:
        return self.remedy.value() in (LEAVE, "", None)


class OptionForm(forms.Form):
    """One option: its words, its price, and for each finding what is done, or why it is left."""

    name = LineField(label="Name", max_length=80)
    words = NoteField(label="In a sentence or two", max_length=1000, required=False, rows=2)
    position = forms.IntegerField(label="Place", min_value=1, max_value=9, required=False)
    more = forms.ChoiceField(
        label="Add work by hand",
        required=False,
        help_text="Beside what the remedies take; it comes with what opens and closes it.",
    )
    drop = forms.MultipleChoiceField(
        label="Added by hand: take out", required=False, widget=forms.CheckboxSelectMultiple
    )
    price = MoneyField(label="Another price", required=False)
    price_reason = LineField(label="Why another price", max_length=200, required=False)
    price_low = MoneyField(label="Range from", required=False)
    price_high = MoneyField(label="to", required=False)

    def __init__(self, data: Any = None, *, option: Option, bench: Bench, sign: str) -> None:
        self.option, self.bench = option, bench
        self.rows = {row.finding_id: row for row in option.findings.all()}
        super().__init__(data, prefix=f"o{option.pk}", initial=self._initial())
        self.fields["price"].help_text = f"Empty: what the sums come to, {money(option.reckoned, sign)}."
        self.added = {work.operation_id: work.operation.name for work in option.works.all() if work.by_hand}
        self._offer_work()
        for one in bench.found:
            self._add_fields(one, bench.remedies.get(one.pk, []))

    def _initial(self) -> dict[str, Any]:
        option = self.option
        return {
            "name": option.name,
            "words": option.words,
            "position": option.position + 1,
            "price": None if option.price == option.reckoned else option.price,
            "price_reason": option.price_reason,
            "price_low": option.price_low,
            "price_high": option.price_high,
        }

    def _offer_work(self) -> None:
        """The catalogue's operations by department; what is in it already is no mistake, and added once."""
        by_bench: dict[str, list[tuple[str, str]]] = {}
        for pk, one in self.bench.reckoner.operations.items():
            by_bench.setdefault(one.department.name, []).append((str(pk), one.name))
        more: Any = self.fields["more"]
        more.choices = [("", "nothing more"), *by_bench.items()]
        if self.added:
            drop: Any = self.fields["drop"]
            drop.choices = [(str(pk), name) for pk, name in self.added.items()]
        else:
            del self.fields["drop"]

    def _wanted_work(self) -> frozenset[int]:
        more, dropped = self.cleaned_data["more"], set(self.cleaned_data.get("drop") or [])
        kept = {pk for pk in self.added if str(pk) not in dropped}
        return frozenset(kept | ({int(more)} if more else set()))

    def _add_fields(self, one: CurrentFinding, remedies: Iterable[Remedy]) -> None:
        row = self.rows.get(one.pk)
        left = row if row is not None and row.treatment == Treatment.LEAVE else None
        ways = [
            (LEAVE, "leave as found"),
            *((str(remedy.pk), remedy.name) for remedy in remedies),
            (BY_HAND, "mended by the work added by hand"),
        ]
        chosen = LEAVE if row is None or left else str(row.remedy_id or BY_HAND)
        name = f"Finding {one.number}"
        fields: dict[str, forms.Field] = {
            "do": forms.ChoiceField(label=f"{name}, what we do", choices=ways, initial=chosen),
            "reason": forms.ChoiceField(
                label=f"{name}, why it is left",
                choices=Finding.Reason.choices,
                initial=left.reason if left else Finding.Reason.MONEY,
                required=False,
            ),
            "expect": LineField(
                label=f"{name}, what to expect",
                max_length=400,
                required=False,
                initial=left.consequence if left else one.if_left,
            ),
            "wait": forms.BooleanField(
                label=f"{name} can be done later", required=False, initial=left.can_wait if left else True
            ),
        }
        for what, field in fields.items():
            self.fields[f"f{one.pk}-{what}"] = field

    def finding_fields(self) -> Iterator[FindingFields]:
        for one in self.bench.found:
            of = {what: self[f"f{one.pk}-{what}"] for what in ("do", "reason", "expect", "wait")}
            yield FindingFields(one, self.rows.get(one.pk), of["do"], of["reason"], of["expect"], of["wait"])

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        for one in self.bench.found:
            if typed.get(f"f{one.pk}-do") == LEAVE and not typed.get(f"f{one.pk}-expect"):
                self.add_error(f"f{one.pk}-expect", "Say what to expect if it is left.")
        return typed

    def wanted(self) -> OptionWords:
        typed = self.cleaned_data
        left = [one for one in self.bench.found if typed[f"f{one.pk}-do"] == LEAVE]
        return OptionWords(
            name=typed["name"],
            words=typed["words"],
            price=typed["price"],
            price_reason=typed["price_reason"],
            price_low=typed["price_low"],
            price_high=typed["price_high"],
            position=(typed["position"] or self.option.position + 1) - 1,
            remedies={
                one.pk: int(done) if (done := typed[f"f{one.pk}-do"]) not in (LEAVE, BY_HAND) else None
                for one in self.bench.found
            },
            by_hand=frozenset(one.pk for one in self.bench.found if typed[f"f{one.pk}-do"] == BY_HAND),
            added=self._wanted_work(),
            left={
                one.pk: LeftWords(
                    typed[f"f{one.pk}-reason"] or Finding.Reason.MONEY,
                    typed[f"f{one.pk}-expect"],
                    typed[f"f{one.pk}-wait"],
                )
                for one in left
            },
        )


class SendForm(EditionForm):
    for_whom = LineField(label="To whom", max_length=80, required=False)
    mail_to = forms.EmailField(
        label="Send it by mail to",
        max_length=254,
        required=False,
        help_text="With the link and the PDF. Empty: the link is only shown here, for you to pass on.",
    )


class WhyForm(forms.Form):
    why = LineField(label="Why, in a few words", max_length=300)


class DepositForm(forms.Form):
    on = DayField(label="Received on")


class YesForm(forms.Form):
    """The customer's yes: one way to go, a typed name, and the tick that makes it an act."""

    option = forms.RegexField(r"^[0-9]{1,18}\Z", error_messages={"required": "Choose one of the ways."})
    typed_name = LineField(label="Your name", max_length=80)
    fingerprint = forms.RegexField(r"^[0-9a-f]{64}\Z", widget=forms.HiddenInput)
    agree = forms.BooleanField(
        label="Yes, I give you this order as it is written here",
        error_messages={"required": "Tick that you give the order: it takes your place of a signature."},
    )


class PaperYesForm(forms.Form):
    """A yes that came on paper: who signed, when, and which way to go."""

    option = forms.ChoiceField(label="Which way", widget=forms.RadioSelect)
    typed_name = LineField(label="Signed by", max_length=80)
    signed_on = DayField(label="Signed on")

    def __init__(self, *args: Any, options: Sequence[Option], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["option"]
        field.choices = [
            (str(one.pk), f"{letter_of(place)}. {one.name}") for place, one in enumerate(options)
        ]
