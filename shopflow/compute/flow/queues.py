"""Waiting: Little's law for the whole shop, and how long work stands in front of a few equal benches."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, fsum, lgamma, log

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, whole

MOST = 1e9


def littles_law(
    *,
    work_in_hand: float | None = None,
    throughput: float | None = None,
    lead_time: float | None = None,
) -> float:
    """Work out the third of work in hand, throughput and lead time from the other two.

    Parameters, exactly two of them: `work_in_hand`, instruments (average); `throughput`, instruments per unit
    of time; `lead_time`, units of the same time. Result: the missing one, as float.
    Errors: ComputeError if not exactly two are given, one is negative, or a division by zero would follow.
    Source: work in hand = throughput x lead time; J. D. C. Little and S. C. Graves, "Little's Law", ch. 5 in
    Chhajed and Lowe (eds.), Building Intuition, Springer 2008.

    >>> littles_law(work_in_hand=160, throughput=8)
    20.0
    """
    given = {"work_in_hand": work_in_hand, "throughput": throughput, "lead_time": lead_time}
    known = {name: _amount(name, value) for name, value in given.items() if value is not None}
    if len(known) != 2:
        names = " and ".join(known) or "nothing"
        raise ComputeError("littles_law", names, "exactly two of work_in_hand, throughput, lead_time")
    if "work_in_hand" not in known:
        return known["throughput"] * known["lead_time"]
    divisor = "throughput" if "throughput" in known else "lead_time"
    return known["work_in_hand"] / number(divisor, known[divisor], above=1e-9)


@dataclass(frozen=True, slots=True)
class Queue:
    """Averages of work waiting for equal benches; times in the unit of the rates."""

    arrival_rate: float
    service_rate: float
    servers: int
    utilisation: float
    idle_probability: float
    wait_probability: float
    waiting: float
    in_system: float
    wait: float
    time_in_system: float

    def started_within(self, time: float) -> float:
        """Give the share of arrivals whose work starts within some time.

        Parameters: `time`, 0 or more, in the unit of the rates. Result: share, 0 to 1.
        Errors: ComputeError for a negative or impossible time. Source: as for `erlang_c`.

        >>> round(erlang_c(360 / 1800, 1 / 240, 55).started_within(20), 4)
        0.8668
        """
        time = number("time", time, at_least=0)
        spare = self.servers * self.service_rate - self.arrival_rate
        return 1 - self.wait_probability * exp(-spare * time)


def erlang_c(arrival_rate: float, service_rate: float, servers: int) -> Queue:
    """Tell how long work stands in front of some equal benches when it comes and is done at random times.

    A rough first look at a department: real work is less random than this, and waits less.

    Parameters: `arrival_rate`, jobs coming per unit of time, 0 or more; `service_rate`, jobs one bench can do
    per unit of time, more than 0; `servers`, benches, 1 to 100,000.
    Result: Queue. Errors: ComputeError for bad input, and when more comes than the benches can ever do.
    Source: queue M/M/c, A. K. Erlang 1917, as in R. Bronson, Operations Research (1982, title from memory).

    >>> queue = erlang_c(300, 182.5, 3)
    >>> round(queue.waiting, 3), round(queue.in_system, 3), round(queue.time_in_system * 365, 3)
    (0.352, 1.996, 2.429)
    """
    arrivals = number("arrival_rate", arrival_rate, at_least=0, at_most=MOST)
    service = number("service_rate", service_rate, above=1e-9, at_most=MOST)
    servers = whole("servers", servers, at_least=1, at_most=100_000)
    offered = arrivals / service
    if offered >= servers:
        most = f"less than the {servers * service:g} that {servers} can do; else the queue grows for ever"
        raise ComputeError("arrival_rate", arrival_rate, most)
    waits = _wait_probability(offered, servers)
    wait = waits / (servers * service - arrivals)
    time = wait + 1 / service
    idle = _idle_probability(offered, servers)
    averages = (offered / servers, idle, waits, arrivals * wait, arrivals * time, wait, time)
    return Queue(arrivals, service, servers, *averages)


def _wait_probability(offered: float, servers: int) -> float:
    """Step from the loss formula for one server up to all of them; no factorial ever appears."""
    lost = 1.0
    for place in range(1, servers + 1):
        lost = offered * lost / (place + offered * lost)
    return servers * lost / (servers - offered * (1 - lost))


def _idle_probability(offered: float, servers: int) -> float:
    """Add up the chances of 0, 1, 2 ... jobs, each times e^-offered so that none can overflow."""
    if offered == 0:
        return 1.0
    chances = [exp(n * log(offered) - offered - lgamma(n + 1)) for n in range(servers + 1)]
    busy = chances.pop() * servers / (servers - offered)
    return exp(-offered) / (fsum(chances) + busy)


def _amount(field: str, given: object) -> float:
    return number(field, given, at_least=0, at_most=MOST)
