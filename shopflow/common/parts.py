"""The processes that make up one running shop, each as a command line."""

from __future__ import annotations

import sys
from pathlib import Path

from . import broker
from .supervisor import Part

# Both at once is plenty for photos and reports beside a plan that is being reckoned.
WORKER_HANDS = 2


def web(host: str, port: int, environment: dict[str, str]) -> Part:
    """One process: the streams to the tablets share one look at the pulse (see pulse.py)."""
    # Static files are read by a plain iterator: small, so that Django's warning tells the shop nothing.
    quiet = ["-W", "ignore:StreamingHttpResponse must consume synchronous"]
    command = [sys.executable, *quiet, "-m", "uvicorn", "shopflow.asgi:application", "--host", host]
    command += ["--port", str(port), "--log-level", "warning", "--no-access-log", "--lifespan", "off"]
    # Without this an open stream to one tablet keeps the process alive for ever.
    command += ["--timeout-graceful-shutdown", "3"]
    return Part("web", command, grace_s=8, environment=environment)


def worker(environment: dict[str, str]) -> Part:
    # On files, child processes take seconds to let go of a message; threads do not.
    pool = "threads" if environment.get("CELERY_BROKER_URL") == broker.FILES else "prefork"
    command = [*_celery("worker"), "--pool", pool, "--concurrency", str(WORKER_HANDS)]
    command += ["--without-gossip", "--without-mingle"]
    return Part("worker", command, grace_s=10, environment=environment)


def clock(data_dir: Path, environment: dict[str, str]) -> Part:
    """Celery's beat: wakes the weekly report and sends again what the broker lost."""
    command = [*_celery("beat"), "--pidfile=", "--schedule", str(data_dir / "beat-schedule")]
    return Part("clock", command, grace_s=5, environment=environment)


def valkey(program: Path, socket_file: Path, data_dir: Path) -> Part:
    command = broker.valkey_command(program, socket_file, data_dir / "broker")
    return Part("broker", command, grace_s=5)


def _celery(what: str) -> list[str]:
    # `up` says it in its own words when it runs as root.
    calm = ["-W", "ignore:You're running the worker with superuser privileges"]
    return [sys.executable, *calm, "-m", "celery", "--quiet", "--app", "shopflow.celery", what]
