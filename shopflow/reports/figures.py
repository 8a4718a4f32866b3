"""What a weekly report holds: plain JSON that reads the same in ten years as on the day it was made."""

from __future__ import annotations

from typing import Any, NotRequired, TypedDict

FORMAT = 1


class LeadTimes(TypedDict):
    """In days; None while nothing was finished."""

    n: int
    median: float | None
    p80: float | None


class Finished(TypedDict):
    """`net` is what counts: the rows less those of earlier weeks that were opened again."""

    net: int
    rows: list[dict[str, Any]]
    opened_again: list[dict[str, Any]]


class Bench(TypedDict):
    """One department: its week, and its open tasks at the end of it, each in exactly one state."""

    code: str
    name: str
    mark: str
    material: str
    signed: int
    signed_13_weeks: list[int]
    hours_earned: float
    hours_spent: float
    racked: int
    benched: int
    resting: int
    proving: int
    stopped: int
    hours_open: float


class InHand(TypedDict):
    """Instruments in the house at the end of the week, each in exactly one of the three states."""

    in_house: int
    not_started: int
    under_way: int
    finished_waiting: int
    at_the_owners: int


class YearSoFar(TypedDict):
    """The ISO year to which the week belongs, up to the end of the week."""

    year: int
    target: int | None
    finished: int
    aim: float | None
    needed_per_week: float | None
    weeks_left: float
    weeks: list[str]
    running: list[int]
    aims: list[float] | None


class Ahead(TypedDict):
    """What the plan of those days said of the rest of the year; frozen with the report."""

    planned_on: str
    year: int
    target: int
    odds: float
    mean: float
    p10: int
    p50: int
    p90: int
    weeks: list[dict[str, Any]]
    narrow: str


class Figures(TypedDict):
    format: int
    week: str
    first_day: str
    last_day: str
    until: str
    so_far: bool
    shop: dict[str, Any]
    finished: Finished
    needed: float | None
    arrived: list[dict[str, Any]]
    left: list[dict[str, Any]]
    benches: list[Bench]
    in_hand: InHand
    lead_week: LeadTimes
    lead_13_weeks: LeadTimes
    littles_law: dict[str, float] | None
    snags: list[dict[str, Any]]
    snag_ages: list[dict[str, Any]]
    recent: list[dict[str, Any]]
    year: YearSoFar
    late_taps: int
    last_move: int
    ahead: NotRequired[Ahead]
