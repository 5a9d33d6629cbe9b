"""TLS, passwords and the ACL file of docs/several-booths.md, as they stand there, on a real broker."""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import ssl
import subprocess
from pathlib import Path

import aiomqtt
import pytest
from mqtt_bench import Broker, needs_mosquitto
from station_booth import booth

from drivers.mqtt import MqttDriver
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec, CounterWire, Presence, Reading, Wiring

DOC = Path(__file__).parents[2] / "docs" / "several-booths.md"
needs_tools = pytest.mark.skipif(
    not (shutil.which("openssl") and shutil.which("mosquitto_passwd")),
    reason="openssl or mosquitto_passwd is not installed here",
)
pytestmark = [pytest.mark.realtime, needs_mosquitto, needs_tools]


def _block(kind: str, n: int = 0) -> str:
    return re.findall(rf"```{kind}\n(.*?)```", DOC.read_text(encoding="utf-8"), re.DOTALL)[n]


class DocBroker(Broker):
    """Set up by the page's own commands, configuration and ACL, with our address in place of the page's."""

    def __init__(self, folder: Path) -> None:
        conf = [line for line in _block("conf").splitlines() if not line.startswith("listener")]
        named = re.compile(r"^(cafile|certfile|keyfile|password_file|acl_file) (.+)$")
        super().__init__(folder, "\n".join(named.sub(rf"\1 {folder}/\2", line) for line in conf) + "\n")
        script = _block("sh", -1).replace("192.0.2.10", "127.0.0.1")
        subprocess.run(["sh", "-e", "-c", script], cwd=folder, check=True, capture_output=True)
        (folder / "acl").write_text(_block("acl"), encoding="utf-8")
        for k, user in enumerate(("desk", "north", "south", "viewer")):
            create = ["-c"] if k == 0 else []
            subprocess.run(
                ["mosquitto_passwd", "-b", *create, "passwords", user, f"pw-{user}"],
                cwd=folder,
                check=True,
                capture_output=True,
            )
            (folder / f"{user}.password").write_text(f"pw-{user}\n", encoding="utf-8")
        for name in ("acl", "passwords", "broker.key"):
            os.chmod(folder / name, 0o600)  # noqa: PTH101

    def of(self, user: str) -> dict[str, object]:
        return {
            "port": self.port,
            "tls": True,
            "ca": str(self.folder / "ca.crt"),
            "user": user,
            "password_file": str(self.folder / f"{user}.password"),
        }

    def client(self, user: str) -> aiomqtt.Client:
        return aiomqtt.Client(
            "127.0.0.1",
            self.port,
            username=user,
            password=f"pw-{user}",
            protocol=aiomqtt.ProtocolVersion.V5,
            tls_context=ssl.create_default_context(cafile=str(self.folder / "ca.crt")),
        )


async def test_a_station_writes_only_its_own_topics_and_a_viewer_nothing(tmp_path: Path) -> None:
    broker = DocBroker(tmp_path)
    async with booth(tmp_path, broker, station=broker.of("north"), desk=broker.of("desk")) as b:
        assert b.state() == "up", "over TLS, with the page's own files"
        forged = [
            ("south", "longlace/booth/north/north/reading"),
            ("south", "longlace/booth/north/status"),
            ("south", "longlace/booth/desk/north/north"),
            ("south", "longlace/elsewhere/south/status"),
            ("viewer", "longlace/booth/north/north/reading"),
            ("viewer", "longlace/booth/viewer/status"),
            ("viewer", "longlace/booth/desk/north/north"),
        ]
        async with broker.client("desk") as desk, broker.client("viewer") as viewer:
            await desk.subscribe("longlace/#")
            await viewer.subscribe("longlace/#")
            for user in ("south", "viewer"):
                async with broker.client(user) as client:
                    for who, topic in forged:
                        if who == user:
                            await client.publish(topic, b"forged", qos=1)
            async with broker.client("south") as south:
                await south.publish("longlace/booth/south/status", b"own", qos=1)
            seen: dict[str, list[tuple[str, object]]] = {"desk": [], "viewer": []}
            for name, client in (("desk", desk), ("viewer", viewer)):
                async with asyncio.timeout(3.0):
                    async for message in client.messages:
                        seen[name].append((str(message.topic), message.payload))
                        if message.payload == b"own":  # sent last: whatever was let through came before it
                            break
        assert not [x for found in seen.values() for x in found if x[1] == b"forged"]
        assert any(topic.startswith("longlace/booth/north/") for topic, _ in seen["viewer"]), "it may look"
        assert b.presences()[-1].bad_lines == 0
        assert b.state() == "up"


# paho leaves the socket of a failed handshake to the interpreter, which closes it with this warning.
@pytest.mark.filterwarnings("ignore:unclosed <ssl.SSLSocket:ResourceWarning")
@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"user": "north"}, "not authori|bad user"),
        ({"ca": None}, "certificate verify failed"),
        ({"password_file": "/nowhere/password"}, "password_file /nowhere/password cannot be read"),
    ],
)
async def test_what_is_wrong_with_the_way_to_the_broker_is_said(
    tmp_path: Path, wrong: dict[str, object], says: str
) -> None:
    broker = DocBroker(tmp_path)
    broker.start()
    said: list[Reading] = []
    options = {"broker": "127.0.0.1", "station": "north"} | broker.of("desk") | wrong
    spec = AdapterSpec("north", "mqtt", options, Wiring(counters={0: CounterWire("4.frames")}))
    task = asyncio.create_task(MqttDriver(spec, SystemClock()).run(said.append))
    try:
        async with asyncio.timeout(3.0):
            while not said:  # noqa: ASYNC110
                await asyncio.sleep(0.02)
    finally:
        task.cancel()
        await asyncio.wait({task})
        broker.stop()
    assert isinstance(said[0], Presence)
    assert said[0].state == "gone"
    assert re.search(says, said[0].text, re.IGNORECASE), said[0].text
