"""Work in a network: in which order it can be done, how long it takes at best, and what may not slip."""

from shopflow.compute.network.links import order
from shopflow.compute.network.path import CriticalPath, JobTimes, critical_path
from shopflow.compute.network.shortcuts import without_shortcuts

__all__ = ["CriticalPath", "JobTimes", "critical_path", "order", "without_shortcuts"]
