"""A real MQTT broker (mosquitto) on this machine, with a login, and TLS if wanted."""

from __future__ import annotations

import contextlib
import getpass
import socket
import subprocess
import time
from typing import TYPE_CHECKING

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

USER, PASSWORD = "keeper", "egg & spoon: 7"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Broker:
    """A broker that can be stopped and started again, with what it keeps."""

    def __init__(self, folder: Path, certificate: tuple[Path, Path] | None = None) -> None:
        self.folder = folder
        self.port = free_port()
        self.certificate = certificate
        self.process: subprocess.Popen[bytes] | None = None
        self._doors: list[paho.Client] = []
        folder.mkdir(exist_ok=True)
        passwords = folder / "passwords"
        subprocess.run(
            ["mosquitto_passwd", "-b", "-c", passwords, USER, PASSWORD],
            check=True,
            capture_output=True,
        )
        passwords.chmod(0o600)
        lines = [
            # Started as root it would drop to a user who cannot write here.
            f"user {getpass.getuser()}",
            f"listener {self.port} 127.0.0.1",
            "allow_anonymous false",
            f"password_file {passwords}",
            "persistence true",
            f"persistence_location {folder}/",
            "autosave_interval 1",
        ]
        if certificate is not None:
            lines += [f"certfile {certificate[0]}", f"keyfile {certificate[1]}"]
        (folder / "mosquitto.conf").write_text("\n".join(lines) + "\n")

    def start(self) -> None:
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                ["mosquitto", "-c", self.folder / "mosquitto.conf"], stdout=log, stderr=log
            )
        for _ in range(500):
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port)):
                return
            time.sleep(0.01)
        raise AssertionError((self.folder / "log").read_text())

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(10)
            self.process = None

    def client(self, name: str, will: tuple[str, str] | None = None, keepalive: int = 60):
        """Return a door that is connected."""
        client = paho.Client(CallbackAPIVersion.VERSION2, client_id=name)
        client.username_pw_set(USER, PASSWORD)
        if self.certificate is not None:
            client.tls_set(ca_certs=str(self.certificate[0]))
        if will is not None:
            client.will_set(*will, qos=1, retain=True)
        client.connect("127.0.0.1", self.port, keepalive=keepalive)
        client.loop_start()
        for _ in range(500):
            if client.is_connected():
                break
            time.sleep(0.01)
        self._doors.append(client)
        return client

    def close(self) -> None:
        for door in self._doors:
            door.loop_stop()
        self.stop()


def say(client: paho.Client, topic: str, word: str, *, retain: bool = False) -> None:
    """Publish a word, and see that the broker has it."""
    client.publish(topic, word, qos=1, retain=retain).wait_for_publish(10)


@contextlib.contextmanager
def running_broker(folder: Path, certificate: tuple[Path, Path] | None = None) -> Iterator[Broker]:
    broker = Broker(folder, certificate)
    broker.start()
    try:
        yield broker
    finally:
        broker.close()
