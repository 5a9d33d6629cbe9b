"""``longlace station`` as a process: an adapter on a pty there, the driver of the desk here, a broker between."""

from __future__ import annotations

import asyncio
import signal
import sys
from pathlib import Path

import pytest
from mqtt_bench import Broker, needs_mosquitto
from serial_double import Adapter, Pty

from drivers.mqtt import MqttDriver
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec, Contacts, Presence, Reading, Wiring

FILE = """
[station]
name = "far"
broker = "127.0.0.1"
port = {port}
tls = false

[[adapter]]
name = "north"
driver = "serial"
port = "{pty}"
[adapter.levels]
0 = "4.run"
"""


@pytest.mark.realtime
@needs_mosquitto
async def test_a_contact_in_the_far_booth_is_an_edge_at_the_desk(tmp_path: Path) -> None:
    clock = SystemClock()
    broker = Broker(tmp_path)
    broker.start()
    adapter = Adapter(clock.now_s)
    pty = Pty(tmp_path / "ttyFAR", adapter)
    pty.plug()
    (tmp_path / "far.toml").write_text(FILE.format(port=broker.port, pty=pty.path))
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "interlock.cli",
        "station",
        str(tmp_path / "far.toml"),
        stdout=asyncio.subprocess.PIPE,
    )
    said: list[Reading] = []
    options = {"broker": "127.0.0.1", "port": broker.port, "tls": False, "station": "far"}
    spec = AdapterSpec("north", "mqtt", options, Wiring({0: "4.run"}))
    desk = asyncio.create_task(MqttDriver(spec, clock).run(said.append))

    async def speak(until: float, closed: bool) -> float | None:
        """The adapter says its levels every 50 ms, until the desk knows that they are so. When it was told, by the reading."""
        while clock.now_s() < until:
            adapter.lv()
            for r in said:
                if isinstance(r, Contacts) and r.values == (("4.run", closed),):
                    return r.fact_s
            await asyncio.sleep(0.05)
        return None

    try:
        assert await speak(clock.now_s() + 6.0, False) is not None, said
        closed_s = clock.now_s()
        adapter.contact(0, True)
        fact_s = await speak(closed_s + 1.0, True)
        assert fact_s == pytest.approx(closed_s, abs=0.05)
        process.send_signal(signal.SIGTERM)
        out, _ = await asyncio.wait_for(process.communicate(), 3.0)
        assert process.returncode == 0
        assert "connected to broker" in out.decode()
        assert out.decode().splitlines()[-1].endswith("ended")
        await asyncio.sleep(0.2)
        told = [r for r in said if isinstance(r, Presence)]
        assert told[-1].state == "gone"
        assert any("station far is gone" in r.text for r in told), "on purpose, and so at once"
    finally:
        if process.returncode is None:
            process.kill()
            await process.communicate()
        desk.cancel()
        await asyncio.wait({desk})
        pty.unplug()
        broker.stop()


@pytest.mark.realtime
@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 0)], ids=["keyboard", "told"]
)
async def test_a_station_that_the_keyboard_ends_says_so_in_its_exit_code(
    tmp_path: Path, number: signal.Signals, code: int
) -> None:
    """contract.md: 130 ended by the keyboard; 0 done. Nobody listens where its broker should be: that is no reason to end."""
    (tmp_path / "far.toml").write_text(FILE.format(port=1, pty=tmp_path / "ttyNONE"))
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "interlock.cli",
        "station",
        str(tmp_path / "far.toml"),
        stdout=asyncio.subprocess.PIPE,
    )
    try:
        assert process.stdout is not None
        await asyncio.wait_for(process.stdout.readline(), 20.0)
        await asyncio.wait_for(process.stdout.readline(), 20.0)  # it runs: of its broker or of its adapter
        process.send_signal(number)
        out, _ = await asyncio.wait_for(process.communicate(), 5.0)
    finally:
        if process.returncode is None:
            process.kill()
            await process.communicate()
    assert out.decode().splitlines()[-1].endswith("ended")
    assert process.returncode == code
