"""Changing a draft as its form gives it: words, options, prices, and what each option does and leaves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_CEILING, Decimal

from django.db import transaction

from shopflow.catalogue.models import Remedy
from shopflow.common.refusals import Refused
from shopflow.offers.frozen import money
from shopflow.offers.models import Offer, Option, OptionFinding, Treatment
from shopflow.offers.selectors.terms import the_terms
from shopflow.offers.selectors.whole_job import HIGHEST_PRICE
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from .drafting import Bench, fill_rows, note_change
from .levels import Way
from .offers import held_draft
from .refusals import DraftChanged


@dataclass(frozen=True, slots=True)
class LeftWords:
    """What is said of one finding that an option leaves."""

    reason: str
    consequence: str
    can_wait: bool


@dataclass(frozen=True, slots=True)
class OptionWords:
    """One option as typed. No price: what the sums come to. Remedies by finding; None leaves it."""

    name: str
    words: str = ""
    price: Decimal | None = None
    price_reason: str = ""
    price_low: Decimal | None = None
    price_high: Decimal | None = None
    position: int = 0
    remedies: Mapping[int, int | None] = field(default_factory=dict)
    by_hand: frozenset[int] = frozenset()
    added: frozenset[int] = frozenset()
    left: Mapping[int, LeftWords] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class DraftWords:
    words: str
    value_words: str
    holds_until: date
    deposit: Decimal
    recommended: int | None
    options: Mapping[int, OptionWords]


@transaction.atomic
def save_draft(*, offer: Offer, wanted: DraftWords, seen_edition: int, by: Person) -> Offer:
    """Keep a draft as typed. Sent twice it is kept once; older than another's change it is refused."""
    access.require(by, Deed.OFFERS)
    try:
        offer = held_draft(offer, seen_edition)
    except DraftChanged as changed:
        if as_it_stands(changed.offer) == wanted:
            return changed.offer
        raise
    options = {option.pk: option for option in offer.options.all()}
    if set(wanted.options) != set(options):
        raise DraftChanged(offer)
    offer.words, offer.value_words = wanted.words, wanted.value_words
    offer.holds_until, offer.deposit = wanted.holds_until, wanted.deposit
    offer.save(update_fields=["words", "value_words", "holds_until", "deposit"])
    bench = Bench.of(offer.instrument)
    for pk, words in wanted.options.items():
        _save_option(options[pk], words, bench, recommended=pk == wanted.recommended)
    note_change(offer, by=by)
    return offer


def as_it_stands(offer: Offer) -> DraftWords:
    """A draft as it is kept, in the shape in which it is typed."""
    options = offer.options.prefetch_related("findings", "works")
    return DraftWords(
        words=offer.words,
        value_words=offer.value_words,
        holds_until=offer.holds_until or date.min,
        deposit=offer.deposit,
        recommended=next((one.pk for one in options if one.is_recommended), None),
        options={one.pk: _option_as_it_stands(one) for one in options},
    )


def _option_as_it_stands(option: Option) -> OptionWords:
    rows = list(option.findings.all())
    return OptionWords(
        name=option.name,
        words=option.words,
        price=None if option.price == option.reckoned else option.price,
        price_reason=option.price_reason,
        price_low=option.price_low,
        price_high=option.price_high,
        position=option.position,
        remedies={row.finding_id: row.remedy_id for row in rows},
        by_hand=_by_hand(rows),
        added=_added(option),
        left={
            row.finding_id: LeftWords(row.reason, row.consequence, row.can_wait)
            for row in rows
            if row.treatment == Treatment.LEAVE
        },
    )


def _save_option(option: Option, words: OptionWords, bench: Bench, *, recommended: bool) -> None:
    option.name, option.words, option.position = words.name, words.words, words.position
    option.is_recommended = recommended
    rows = list(option.findings.all())
    before = {row.finding_id: row.remedy_id for row in rows if row.remedy_id}
    chosen = _remedies(words, bench)
    _check_by_hand(words, bench)
    wanted = {pk: remedy.pk for pk, remedy in chosen.items()}, words.by_hand, words.added
    if wanted != (before, _by_hand(rows), _added(option)):
        way = Way(option.level, option.name, option.words, chosen, words.added, words.by_hand)
        fill_rows(option, way, bench)
    _price(option, words)
    option.save()
    for row in option.findings.filter(treatment=Treatment.LEAVE, finding__in=list(words.left)):
        said = words.left[row.finding_id]
        row.reason, row.consequence, row.can_wait = said.reason, said.consequence, said.can_wait
        row.save(update_fields=["reason", "consequence", "can_wait"])


def _remedies(words: OptionWords, bench: Bench) -> dict[int, Remedy]:
    """The remedies chosen; a finding without a word in the form keeps being left."""
    chosen: dict[int, Remedy] = {}
    for one in bench.found:
        wanted = words.remedies.get(one.pk)
        if wanted is None:
            continue
        fitting = [remedy for remedy in bench.remedies.get(one.pk, []) if remedy.pk == wanted]
        if not fitting:
            raise Refused(f"This remedy is not for “{one.name}”.")
        chosen[one.pk] = fitting[0]
    return chosen


def _by_hand(rows: Iterable[OptionFinding]) -> frozenset[int]:
    """The findings that are mended without a remedy of the library."""
    return frozenset(
        row.finding_id for row in rows if row.treatment != Treatment.LEAVE and row.remedy_id is None
    )


def _added(option: Option) -> frozenset[int]:
    return frozenset(work.operation_id for work in option.works.all() if work.by_hand)


def _check_by_hand(words: OptionWords, bench: Bench) -> None:
    strange = words.added - bench.reckoner.operations.keys()
    if strange:
        raise Refused(f"“{words.name}”: this work is not done on this kind of instrument.")
    nameless = [one.name for one in bench.found if one.pk in words.by_hand]
    if nameless and not words.added:
        raise Refused(f"“{words.name}”: add the work by which “{nameless[0]}” is mended.")


def _price(option: Option, words: OptionWords) -> None:
    """Another price than the sums give needs a reason, and is never below what the work costs the shop."""
    sign, field_of = the_terms().currency, f"o{option.pk}-price"
    option.price = option.reckoned if words.price is None else words.price
    option.price_reason = words.price_reason if option.price != option.reckoned else ""
    least = option.cost.quantize(Decimal(1), ROUND_CEILING)
    if not least <= option.price <= HIGHEST_PRICE:
        raise Refused(
            f"“{option.name}”: got {money(option.price, sign)}; allowed is {money(least, sign)}, which "
            f"is what it costs the shop, to {money(HIGHEST_PRICE, sign)}.",
            field=field_of,
        )
    if option.price != option.reckoned and not option.price_reason:
        raise Refused(
            f"“{option.name}”: the sums come to {money(option.reckoned, sign)}; say why it is another price.",
            field=f"{field_of}_reason",
        )
    _range(option, words, sign)


def _range(option: Option, words: OptionWords, sign: str) -> None:
    low, high = words.price_low, words.price_high
    if (low is None) != (high is None):
        raise Refused(f"“{option.name}”: a range needs both ends, or none.", field=f"o{option.pk}-price_low")
    if low is not None and high is not None and not low <= option.price <= high:
        raise Refused(
            f"“{option.name}”: {money(low, sign)} to {money(high, sign)} does not hold its price of "
            f"{money(option.price, sign)}.",
            field=f"o{option.pk}-price_low",
        )
    option.price_low, option.price_high = low, high
