"""Every example in the docstrings of the computations runs and tells the truth."""

import doctest
import importlib
import inspect
import pkgutil

import pytest

from shopflow import compute

MODULES = sorted(found.name for found in pkgutil.walk_packages(compute.__path__, f"{compute.__name__}."))


def test_the_modules_are_found():
    assert {"shopflow.compute.errors", "shopflow.compute.calendar.weeks"} <= set(MODULES)


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_run(name):
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_every_public_computation_shows_an_example(name):
    module = importlib.import_module(name)
    own = [each for _, each in inspect.getmembers(module, inspect.isfunction) if each.__module__ == name]
    public = [each for each in own if not each.__name__.startswith("_")]
    assert [each.__name__ for each in public if ">>>" not in (each.__doc__ or "")] == []
