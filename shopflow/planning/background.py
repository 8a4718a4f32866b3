"""Planning in the background: each night, when asked, and never inside a tap."""

from __future__ import annotations

from typing import Any

from shopflow.common import jobs
from shopflow.compute import schedule
from shopflow.compute.errors import ComputeError

from .measures import from_data
from .problem import Unplannable
from .services import plans


@jobs.kind("plan")
def make_plan(
    run: jobs.Run,
    *,
    by_name: str = "the nightly clock",
    measures: list[dict[str, Any]] | None = None,
    seconds: float = plans.SEARCH_SECONDS,
    seed: int = 0,
    publish: bool = False,
) -> dict[str, Any]:
    """Plan the house; the last good plan stands until this one is done."""

    def tell(words: str, best: float, tries: int) -> bool:
        run.progress(1, total=3, note=f"{words}: {best:,.0f} hours late in all, {tries:,} tried")
        return not run.stopped()

    # Compiled once a machine and kept; not as the worker starts, which has only seconds to come up.
    run.progress(0, total=3, note="getting ready")
    schedule.warm_up()
    run.progress(0, total=3, note="reading the house")
    try:
        plan = plans.make_plan(
            by_name=by_name,
            measures=from_data(measures or []),
            seconds=seconds,
            seed=seed,
            publish=publish,
            on_progress=tell,
        )
    except (Unplannable, ComputeError) as why:
        raise jobs.Cannot(f"No plan: {why} The last plan stays.") from why
    return {"plan": plan.pk}
