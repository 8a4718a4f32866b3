"""Every example in the docstrings of the computations runs and tells the truth."""

import doctest
import importlib
import inspect
import pkgutil

import pytest

from shopflow import compute

MODULES = sorted(found.name for found in pkgutil.walk_packages(compute.__path__, f"{compute.__name__}."))
# What callers use: the modules right under compute. Inside a package, helpers may go without an example.
PUBLIC = sorted(found.name for found in pkgutil.iter_modules(compute.__path__, f"{compute.__name__}."))


def test_the_modules_are_found():
    assert {"shopflow.compute.errors", "shopflow.compute.calendar.weeks"} <= set(MODULES)


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_run(name):
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_computation_shows_an_example(name):
    offered = inspect.getmembers(importlib.import_module(name), inspect.isfunction)
    public = [each for spoken, each in offered if not spoken.startswith("_") and _is_ours(each)]
    assert [each.__name__ for each in public if ">>>" not in (each.__doc__ or "")] == []


def _is_ours(function):
    return function.__module__.startswith(compute.__name__)
