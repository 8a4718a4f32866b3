"""The computations stand alone: importing them loads neither the web app nor the heavy solvers."""

import json
import pkgutil
import subprocess
import sys

import pytest

from shopflow import compute

EVERYTHING = sorted(found.name for found in pkgutil.walk_packages(compute.__path__, f"{compute.__name__}."))
# Only planning and forecasting may use compiled or solver code; the rest must start at once at a tap.
MAY_BE_HEAVY = ("shopflow.compute.schedule", "shopflow.compute.forecast", "shopflow.compute.scope")
LIGHT = [name for name in EVERYTHING if not name.startswith(MAY_BE_HEAVY)]
WEB, HEAVY = {"django", "celery"}, {"numba", "highspy", "scipy", "ortools", "networkx", "simpy"}

LOAD = "import importlib, json, sys; [importlib.import_module(name) for name in sys.argv[1:]]; " + (
    "print(json.dumps(sorted({name.split('.')[0] for name in sys.modules})))"
)


def loaded_by(names):
    """Top names of all modules in memory after importing these in a fresh interpreter."""
    ran = subprocess.run([sys.executable, "-c", LOAD, *names], capture_output=True, text=True, check=True)
    return set(json.loads(ran.stdout))


def test_no_computation_loads_the_web_app():
    loaded = loaded_by(EVERYTHING)
    assert "shopflow" in loaded
    assert not loaded & WEB


def test_the_light_computations_load_no_solver_or_compiler():
    assert not loaded_by(LIGHT) & (WEB | HEAVY)


@pytest.mark.parametrize("package", ["django", "numba"])
def test_the_check_can_see_a_package_that_is_loaded(package):
    assert package in loaded_by([package])
