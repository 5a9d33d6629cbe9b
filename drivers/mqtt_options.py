"""How a broker is reached: the same keys in a station's file and in an ``[[adapter]]`` of the show file."""

from __future__ import annotations

import ipaddress
import re
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from interlock.text import clean


def _word(text: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,32}", text):
        raise ValueError(f'found "{clean(text, 60)}", expected 1 to 32 of letters, digits, - and _')
    return text


Word = Annotated[str, AfterValidator(_word)]
"""A level of a topic: nothing in it that MQTT, an ACL file or a file's name would read as something else."""


class BrokerOptions(BaseModel):
    """Where the broker is, and who we are to it."""

    model_config = ConfigDict(extra="forbid", strict=True)

    broker: str = Field(min_length=1, max_length=253, description="the broker's host name or address")
    port: int | None = Field(None, ge=1, le=65535, description="8883 with TLS, 1883 without")
    site: Word = Field("booth", description="first level of all topics: one for each house of houses")
    tls: bool = Field(True, description="false only on a network that nobody else is on")
    ca: str | None = Field(None, min_length=1, description="file of the authority that signed the broker")
    user: str | None = Field(None, min_length=1, max_length=64)
    password_file: str | None = Field(None, min_length=1, description="its first line is the password")

    @property
    def tcp_port(self) -> int:
        """The port to connect to."""
        return self.port if self.port is not None else (8883 if self.tls else 1883)

    @model_validator(mode="after")
    def _fits(self) -> BrokerOptions:
        if (self.user is None) != (self.password_file is None):
            raise ValueError("user and password_file belong together: give both or none")
        if not self.tls and self.ca is not None:
            raise ValueError("ca is for TLS: set tls = true, or leave ca out")
        if not self.tls and self.password_file is not None and not _loopback(self.broker):
            raise ValueError("a password without TLS could be read by anybody on the way: set tls = true")
        return self


class MqttOptions(BrokerOptions):
    """The keys of ``driver = "mqtt"``."""

    station: Word = Field(description="the station that serves the adapter, as it calls itself")
    adapter: Word | None = Field(None, description="the adapter's name there; default: its name here")
    publish: bool = Field(
        True, description="the desk says its state and its alarms on this broker, for other programs"
    )


def _loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
