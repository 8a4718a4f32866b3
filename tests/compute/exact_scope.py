"""The best work for the money from an exact solver that shares no code with ours."""

from __future__ import annotations

from ortools.sat.python import cp_model


def best(choices, budget, requires, exclusive, insist=(), refuse=()) -> tuple[int, int]:
    """Most benefit within the budget, and the least money that buys it; whole numbers only."""
    worth, _ = _solved(choices, requires, exclusive, insist, refuse, limit=int(budget))
    return worth, cheapest(choices, worth, requires, exclusive, insist, refuse)


def cheapest(choices, floor, requires, exclusive, insist=(), refuse=()) -> int | None:
    """The least money that buys at least this benefit; None if no money does."""
    found = _solved(choices, requires, exclusive, insist, refuse, floor=floor)
    return found and found[1]


def _solved(choices, requires, exclusive, insist, refuse, limit=None, floor=None):
    model = cp_model.CpModel()
    taken = {each.id: model.new_bool_var(each.id) for each in choices}
    cost = sum(int(each.cost) * taken[each.id] for each in choices)
    worth = sum(int(each.benefit) * taken[each.id] for each in choices)
    for id, others in requires.items():
        for other in others:
            model.add_implication(taken[id], taken[other])
    for group in exclusive:
        model.add_at_most_one([taken[id] for id in group])
    for id in insist:
        model.add(taken[id] == 1)
    for id in refuse:
        model.add(taken[id] == 0)
    if limit is None:
        model.add(worth >= floor)
        model.minimize(cost)
    else:
        model.add(cost <= limit)
        model.maximize(worth)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if solver.solve(model) != cp_model.OPTIMAL:
        return None
    return sum(int(each.benefit) * solver.value(taken[each.id]) for each in choices), sum(
        int(each.cost) * solver.value(taken[each.id]) for each in choices
    )
