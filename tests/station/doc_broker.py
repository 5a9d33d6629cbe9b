"""A broker set up by docs/several-booths.md, word for word, with our addresses in place of the page's."""

from __future__ import annotations

import os
import re
import shutil
import ssl
import subprocess
from pathlib import Path
from typing import Any

import aiomqtt
import pytest
from mqtt_bench import Broker

DOC = Path(__file__).parents[2] / "docs" / "several-booths.md"
needs_tools = pytest.mark.skipif(
    not (shutil.which("openssl") and shutil.which("mosquitto_passwd")),
    reason="openssl or mosquitto_passwd is not installed here",
)


def _block(kind: str, n: int = 0) -> str:
    return re.findall(rf"```{kind}\n(.*?)```", DOC.read_text(encoding="utf-8"), re.DOTALL)[n]


class DocBroker(Broker):
    """Set up by the page's own commands, configuration and ACL. ``addresses``: those in its certificate."""

    def __init__(self, folder: Path, addresses: tuple[str, ...] = ("127.0.0.1",), **place: Any) -> None:
        conf = [line for line in _block("conf").splitlines() if not line.startswith("listener")]
        named = re.compile(r"^(cafile|certfile|keyfile|password_file|acl_file) (.+)$")
        more = "\n".join(named.sub(rf"\1 {folder}/\2", line) for line in conf) + "\n"
        super().__init__(folder, more, **place)
        script = _block("sh", -1).replace("IP:192.0.2.10", ",".join(f"IP:{a}" for a in addresses))
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

    def lines(self, user: str) -> str:
        """The same as lines of a show's or a station's file."""
        given = {k: v for k, v in self.of(user).items() if k not in ("port", "tls")}
        return "\n".join(["tls = true", *(f'{k} = "{v}"' for k, v in given.items())])

    def client(self, user: str) -> aiomqtt.Client:
        return aiomqtt.Client(
            "127.0.0.1",
            self.port,
            username=user,
            password=f"pw-{user}",
            protocol=aiomqtt.ProtocolVersion.V5,
            tls_context=ssl.create_default_context(cafile=str(self.folder / "ca.crt")),
        )
