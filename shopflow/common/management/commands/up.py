"""`manage.py up`: everything that one shop on one machine needs, until Ctrl-C."""

from __future__ import annotations

import argparse
import fcntl
import http.client
import logging
import os
import shutil
import socket
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.management import BaseCommand, CommandError, call_command

from shopflow.common import broker, parts
from shopflow.common.supervisor import Supervisor

log = logging.getLogger(__name__)

EVERYWHERE = {"0.0.0.0", "::"}


class Command(BaseCommand):
    help = "Runs the shop on this machine: pages, worker, weekly clock and, if none is named, a broker."
    # migrate checks everything, the database too, once there is one.
    requires_system_checks = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--port", type=port_number, default=8000)
        parser.add_argument("--host", default="127.0.0.1", help="0.0.0.0 lets tablets in")
        parser.add_argument("--no-demo", action="store_true", help="begin with an empty shop")

    def handle(self, *, port: int, host: str, no_demo: bool, **_: Any) -> None:
        data_dir: Path = settings.DATA_DIR
        address = address_for(host, port)
        with only_one(data_dir / "up.lock", address):
            refuse_taken_port(host, port)
            try:
                self.prepare(with_demo=not no_demo)
            except KeyboardInterrupt:
                raise CommandError("Stopped before the shop was open.", returncode=130) from None
            with short_folder() as folder, Supervisor() as supervisor:
                environment = start_broker(supervisor, folder, data_dir)
                supervisor.add(parts.worker(environment))
                supervisor.add(parts.clock(data_dir, environment))
                supervisor.add(parts.web(host, port, environment))
                if supervisor.run(until=lambda: answers(host, port)):
                    self.welcome(address, data_dir / "demo-people.txt")
                    supervisor.run()
                self.say("\nClosing the shop ...")
        self.say("The shop is closed; nothing is lost.")

    def prepare(self, *, with_demo: bool) -> None:
        """Bring the database up to date and, in a new shop, put the demo in."""
        if os.geteuid() == 0:
            self.say("Note: this runs as the machine's root user; a user of the shop's own is safer.")
        self.say("Preparing the database ...")
        call_command("migrate", interactive=False, verbosity=0)
        if not with_demo or apps.get_model("catalogue", "Department").objects.exists():
            return
        self.say("Putting in the demo shop, once; this takes a minute or two ...")
        call_command("load_demo")

    def welcome(self, address: str, people: Path) -> None:
        """Where to look and how to sign in."""
        self.say(f"\nThe shop is open at {address}    (Ctrl-C closes it)\n")
        if people.exists():
            self.say(people.read_text())

    def say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()


def start_broker(supervisor: Supervisor, folder: Path, data_dir: Path) -> dict[str, str]:
    """What the other parts must know of the broker; starts one unless the house names its own."""
    if os.environ.get("CELERY_BROKER_URL"):
        return {}
    program = broker.valkey_program()
    if program:
        socket_file = folder / "broker"
        valkey = parts.valkey(program, socket_file, data_dir)
        supervisor.add(valkey)
        if broker.comes_up(socket_file, valkey.is_alive):
            return {"CELERY_BROKER_URL": broker.socket_url(socket_file)}
        supervisor.drop(valkey)
    log.warning("no Valkey runs on this machine; work for the background is handed over in files")
    return {"CELERY_BROKER_URL": broker.FILES}


@contextmanager
def only_one(lock_file: Path, address: str) -> Iterator[None]:
    """Two shops on one data folder would run everything twice. The kernel frees the lock, come what may."""
    with lock_file.open("a+") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            lock.seek(0)
            raise CommandError(f"This shop is open already, at {lock.read().strip()}") from None
        lock.truncate(0)
        lock.write(address)
        lock.flush()
        yield


@contextmanager
def short_folder() -> Iterator[Path]:
    """For the broker's socket: its address may have about 100 letters, and a data folder's may be longer."""
    folder = Path(tempfile.mkdtemp(prefix="shop-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def port_number(given: str) -> int:
    if not given.isdecimal() or not 1 <= int(given) <= 65_535:
        raise argparse.ArgumentTypeError(f"{given} is no port; allowed is 1 to 65535")
    return int(given)


def refuse_taken_port(host: str, port: int) -> None:
    """Say so now rather than let the web part die again and again."""
    try:
        with socket.create_server((host, port)):
            pass
    except PermissionError:
        raise CommandError(f"Port {port} is kept for the machine's owner; try --port 8000") from None
    except OSError as trouble:
        raise CommandError(
            f"{host} port {port} cannot be had ({trouble.strerror}). Another program may hold it; "
            f"try: python3 manage.py up --port {port + 1}"
        ) from None


def answers(host: str, port: int) -> bool:
    line = http.client.HTTPConnection(_near(host), port, timeout=5)
    try:
        line.request("GET", "/")
        return line.getresponse().status < http.client.INTERNAL_SERVER_ERROR
    except OSError:
        return False
    finally:
        line.close()


def address_for(host: str, port: int) -> str:
    """What to type into a browser: on a tablet, this machine's own address in the shop's network."""
    return f"http://{_own_address() if host in EVERYWHERE else host}:{port}/"


def _near(host: str) -> str:
    return "127.0.0.1" if host in EVERYWHERE else host


def _own_address() -> str:
    # Connecting a datagram socket sends nothing; it only asks the kernel which of its addresses it would use.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()
