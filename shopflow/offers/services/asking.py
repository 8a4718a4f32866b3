"""What a customer is asked, frozen word for word: nothing of cost, hours or margin is in it."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.models import Shop, Terms
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.offers.frozen import Words, day_in_words, days_in_words, fingerprint_of, money
from shopflow.offers.models import ChangeChoice, ChangeOrder
from shopflow.offers.selectors.terms import the_terms

ANSWERS = {
    ChangeChoice.Kind.DO: "Do it",
    ChangeChoice.Kind.CHEAPER: "Do it the cheaper way",
    ChangeChoice.Kind.LEAVE: "Leave it as found",
}


def freeze(change: ChangeOrder) -> None:
    """Fix what is asked, with its fingerprint; refused while something that has to be said is missing."""
    _check(change)
    change.sent_at, change.customer = clock.now(), change.instrument.customer
    change.frozen = words_of(change)
    change.fingerprint = fingerprint_of(change.frozen)


def words_of(change: ChangeOrder) -> Words:
    """Everything the customer sees of it, ready in words."""
    terms = the_terms()
    shop = Shop.objects.first()
    piano = change.instrument
    return {
        "shop": {"name": shop.name if shop else "", "town": shop.town if shop else ""},
        "instrument": {"number": piano.number, "title": piano.title, "serial": piano.serial},
        "number": change.number,
        "edition": change.edition,
        "finding": change.finding.name,
        "what": change.what,
        "why_hidden": change.why_hidden,
        "photo": str(change.photo.key) if change.photo else "",
        "photo_words": change.photo.caption if change.photo else "",
        "decide_by": change.decide_by.isoformat(),
        "decide_by_words": day_in_words(change.decide_by),
        "policy": policy_words(change),
        "stops": list(change.stops.order_by("position", "pk").values_list("name", flat=True)),
        "moves_promise": change.moves_promise and piano.promised_on is not None,
        "choices": [_choice(choice, terms.currency) for choice in change.choices.all()],
        "foot": terms.letter_foot,
    }


def policy_words(change: ChangeOrder) -> str:
    """By which rule of the shop this is asked."""
    if change.policy == Terms.Surprise.FIXED:
        return "Your price is fixed: whatever you choose here costs you nothing more."
    if change.policy == Terms.Surprise.UP_TO:
        return (
            f"Up to {change.policy_percent} % of the price agreed we may do what is needed without asking;"
            " beyond it we ask."
        )
    return "We ask before every extra: nothing is done about this until you have decided."


def _choice(choice: ChangeChoice, sign: str) -> dict[str, Any]:
    is_left = choice.kind == ChangeChoice.Kind.LEAVE
    return {
        "id": choice.pk,
        "kind": choice.kind,
        "title": ANSWERS[ChangeChoice.Kind(choice.kind)],
        "words": choice.words,
        "consequence": choice.consequence,
        "price": "" if is_left else money(choice.price, sign) if choice.price else "no extra charge",
        "besides": [name for name, _ in choice.besides],
        "credit": falls_away_in_words(choice, sign),
        "price_later": money(choice.price_later, sign),
        "days": "" if is_left else days_in_words(choice.days_low, choice.days_high),
    }


def _check(change: ChangeOrder) -> None:
    choices = {choice.kind: choice for choice in change.choices.all()}
    if not change.what.strip():
        raise Refused("Say in plain words what it is.", field="what")
    if not change.why_hidden.strip():
        raise Refused("Say why it could not be seen before: the customer will ask.", field="why_hidden")
    if change.decide_by < clock.today():
        raise Refused(
            f"“Decide by” is {change.decide_by:%d %b %Y}, which is past; allowed is today or later.",
            field="decide_by",
        )
    if not choices.keys() & {ChangeChoice.Kind.DO, ChangeChoice.Kind.CHEAPER}:
        raise Refused("Offer at least one way of doing something about it.")
    for choice in choices.values():
        if not choice.words.strip():
            raise Refused(f"“{ANSWERS[ChangeChoice.Kind(choice.kind)]}”: say what is done.")
    for choice in choices.values():
        _refuse_below_cost(change, choice)
    left = choices.get(ChangeChoice.Kind.LEAVE)
    if left is not None and not left.consequence.strip():
        raise Refused("“Leave it as found”: say what the customer has to expect then.")


def _refuse_below_cost(change: ChangeOrder, choice: ChangeChoice) -> None:
    """What is asked is never less than it costs the shop, but for a reason that is kept."""
    is_carried = change.policy == Terms.Surprise.FIXED or choice.kind == ChangeChoice.Kind.LEAVE
    if is_carried or choice.price >= choice.cost or choice.price_reason.strip():
        return
    sign, title = the_terms().currency, ANSWERS[ChangeChoice.Kind(choice.kind)]
    raise Refused(
        f"“{title}” costs the shop {money(choice.cost, sign)} and is asked for"
        f" {money(choice.price, sign) or 'nothing'}: ask at least what it costs, or say why not."
    )


def falls_away_in_words(choice: ChangeChoice, sign: str) -> str:
    """The credit as a line of its own; nothing where nothing falls away."""
    if not choice.falls_away:
        return ""
    named = ", ".join(f"“{name}”" for name in choice.falls_away)
    worth = f": {money(choice.credit, sign)} less, taken off already" if choice.credit else ""
    return f"Not needed any more: {named}{worth}"
