"""Whether the catalogue still agrees with itself after a change, and what the change does to the routes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from shopflow.catalogue.knowledge import SIDES, knowledge_data
from shopflow.common.refusals import Refused
from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Knowledge

Facts = dict[str, Any]
Known = Mapping[str, Knowledge]
MOST_TOLD = 6


@contextmanager
def agreeing(*, anyway: bool = True) -> Iterator[None]:
    """Refuse what is changed inside if the catalogue contradicts itself afterwards.

    Unless `anyway`, also refuse what changes the work of a route, and say how; whoever reads it decides.
    """
    before = knowledge_data()
    yield
    after = knowledge_data()
    if before == after or not after["lines"]:
        return
    old, wrong_before = _known(before)
    new, wrong = _known(after)
    if wrong and not wrong_before:
        raise Refused(f"This cannot be kept. {wrong}")
    if wrong:
        return
    _refuse_idle_wishes(before, after, new)
    effects = [] if anyway or wrong_before else list(effects_on_routes(after["routes"], old, new))
    if effects:
        raise Refused(f"This changes routes. {' '.join(_few(effects))}", field="anyway")


def contradiction() -> str:
    """What is wrong with the catalogue as it stands, in words; nothing when it agrees with itself."""
    facts = knowledge_data()
    return _known(facts)[1] if facts["lines"] else ""


def effects_on_routes(routes: Facts, old: Known, new: Known) -> Iterator[str]:
    """One sentence for each route that breaks, gains work or loses work."""
    for code, route in sorted(routes.items()):
        was, now = old[route["kind"]], new[route["kind"]]
        asked = [operation for operation in route["operations"] if operation in now.codes]
        try:
            before = set(was.complete(each for each in asked if each in was.codes).operations)
        except ComputeError:
            continue
        try:
            after = set(now.complete(asked).operations)
        except ComputeError as error:
            yield f"Route {code} can no longer be done: {_words(error, _names(now))}"
            continue
        if after - before:
            yield f"Route {code} would need {_listed(now, after - before)}, too."
        if before - after:
            yield f"Route {code} would no longer need {_listed(was, before - after)}."


def _known(facts: Facts) -> tuple[Known, str]:
    """What is known of both kinds; or what is wrong, in words that name the operations."""
    names = {code: row["name"] for code, row in facts["operations"].items()}
    try:
        return {kind: Knowledge.load(facts, kind) for kind in SIDES}, ""
    except ComputeError as error:
        return {}, _words(error, names)


def _refuse_idle_wishes(before: Facts, after: Facts, known: Known) -> None:
    """A wish that goes against what the state says would have no effect."""
    for code, row in after["operations"].items():
        old = before["operations"].get(code, {}).get("after", ())
        for other in set(row.get("after", ())) - set(old):
            for knows in known.values():
                ties = knows.order({code, other} & knows.codes)
                contrary = [tie.reason for tie in ties if tie.before == code]
                if contrary:
                    names = f"“{row['name']}” cannot come after “{knows.name(other)}”"
                    raise Refused(f"{names}: {contrary[0]}.", field="after")


def _words(error: ComputeError, names: Mapping[str, str]) -> str:
    """The sentence of a contradiction; a circle names its members in turn."""
    given = error.given
    if isinstance(given, list | tuple) and given and all(code in names for code in given):
        return "They would wait for each other: " + " → ".join(f"“{names[code]}”" for code in given) + "."
    field = str(error.field)
    return f"{field[:1].upper()}{field[1:]}: {given}."


def _names(known: Knowledge) -> dict[str, str]:
    return {code: known.name(code) for code in known.codes}


def _listed(known: Knowledge, codes: set[str]) -> str:
    return ", ".join(f"“{known.name(code)}”" for code in sorted(codes))


def _few(sentences: list[str]) -> list[str]:
    more = len(sentences) - MOST_TOLD
    return sentences if more <= 0 else [*sentences[:MOST_TOLD], f"And {more} more."]
