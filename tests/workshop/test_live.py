from __future__ import annotations

import asyncio

import pytest
from asgiref.sync import sync_to_async
from django.test import AsyncClient

from shopflow.common import live, pulse
from shopflow.common.models import Pulse
from tests import cast


@pytest.fixture
def quick(monkeypatch):
    monkeypatch.setattr(live, "LOOK_EVERY", 0.02)
    monkeypatch.setattr(live, "SAY_SOMETHING_AFTER", 0.2)
    live._watchers.clear()
    yield
    live._watchers.clear()


@pytest.mark.django_db
def test_a_stranger_hears_nothing(client):
    assert client.get("/live/number/").status_code == 403
    client.force_login(cast.stranger())
    assert client.get("/live/number/").status_code == 403


@pytest.mark.django_db
def test_a_hand_hears_the_pulse_as_a_number(client):
    client.force_login(cast.finisher())
    pulse.bump()
    assert client.get("/live/number/").content == str(pulse.current()).encode()


@pytest.mark.django_db(transaction=True)
def test_every_listener_hears_a_change_and_one_watcher_serves_them_all(quick):
    finn = cast.finisher()
    pulse.bump()

    async def listen() -> list[bytes]:
        client = AsyncClient()
        await sync_to_async(client.force_login)(finn)
        response = await client.get("/live/")
        assert response.headers["Content-Type"] == "text/event-stream"
        heard = []
        async for line in response.streaming_content:
            heard.append(line)
            if sum(b"event: pulse" in one for one in heard) == 2:
                return heard
        return heard

    async def change() -> None:
        while live.watcher().listeners < 2:
            await asyncio.sleep(0.02)
        assert len(live._watchers) == 1
        await sync_to_async(pulse.bump)()

    async def both() -> list[list[bytes]]:
        *heard, _ = await asyncio.wait_for(asyncio.gather(listen(), listen(), change()), 30)
        return heard

    for heard in asyncio.run(both()):
        numbers = [int(line.split(b"data: ")[1]) for line in heard if b"data" in line]
        assert numbers[1] == numbers[0] + 1


@pytest.mark.django_db(transaction=True)
def test_a_quiet_stream_says_now_and_then_that_it_is_still_here(quick):
    finn = cast.finisher()

    async def first_two() -> list[bytes]:
        client = AsyncClient()
        await sync_to_async(client.force_login)(finn)
        response = await client.get("/live/")
        heard = []
        async for line in response.streaming_content:
            heard.append(line)
            if len(heard) == 3:
                break
        return heard

    assert asyncio.run(asyncio.wait_for(first_two(), 30))[-1] == b": still here\n\n"


@pytest.mark.django_db(transaction=True)
def test_a_pulse_that_begins_again_is_told_once(quick):
    pulse.bump()

    async def hear() -> list[int | None]:
        numbers = live.watcher().numbers()
        heard = [await anext(numbers)]
        await sync_to_async(Pulse.objects.all().delete)()
        heard += [await anext(numbers) for _ in range(2)]
        await numbers.aclose()
        return heard

    # The third is the sign of life after a silence, not the same number over and over.
    assert asyncio.run(asyncio.wait_for(hear(), 30)) == [1, 0, None]
