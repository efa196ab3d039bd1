"""Clients of an MQTT broker: their names, logins and certificates."""

from __future__ import annotations

import ssl
from typing import TYPE_CHECKING

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from daylatch.errors import HomeError
from daylatch.site.mqtt import SYSTEM

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.home.secrets import Secrets
    from daylatch.site.mqtt import Mqtt

_WAIT_S = 10.0


def new_client(
    settings: Mqtt, name: str, secrets: Secrets, folder: Path, *, is_kept: bool
) -> paho.Client:
    """Return a client that is not connected yet.

    Parameters
    ----------
    settings
        Which broker.
    name
        The client's name there, which no other may have.
    secrets
        With the login.
    folder
        Where the file of certificates lies.
    is_kept
        Whether the broker keeps what comes while it is not connected. Then messages must be
        acknowledged one by one.

    Raises
    ------
    HomeError
        If the file of certificates cannot be used.
    """
    client = paho.Client(
        CallbackAPIVersion.VERSION2,
        client_id=name,
        clean_session=not is_kept,
        protocol=paho.MQTTv311,
        manual_ack=is_kept,
    )
    if secrets.mqtt_user:
        client.username_pw_set(secrets.mqtt_user, secrets.mqtt_password or None)
    if settings.tls is not None:
        client.tls_set_context(_tls(settings.tls, folder))
    return client


def publish(client: paho.Client, topic: str, word: str | bytes, *, is_kept: bool = True) -> bool:
    """Say a word on a topic; return whether the broker has it.

    Parameters
    ----------
    client
        That is connected, or about to be.
    topic, word
        What, and where.
    is_kept
        Whether who comes later hears it too.
    """
    sent = client.publish(topic, word, qos=1, retain=is_kept)
    try:
        sent.wait_for_publish(_WAIT_S)
    except (RuntimeError, ValueError):
        return False
    return sent.is_published()


def say_once(
    settings: Mqtt, name: str, secrets: Secrets, folder: Path, word: str, *, is_kept: bool = True
) -> bool:
    """Connect, say a word on the topic of the buzzer, and leave; return whether it arrived.

    Raises
    ------
    HomeError
        As `new_client`.
    """
    assert settings.alarm is not None
    client = new_client(settings, name, secrets, folder, is_kept=False)
    try:
        client.connect(str(settings.host), settings.port_used)
    except OSError:
        return False
    client.loop_start()
    try:
        return publish(client, settings.alarm, word, is_kept=is_kept)
    finally:
        client.disconnect()
        client.loop_stop()


def _tls(trusted: str, folder: Path) -> ssl.SSLContext:
    if trusted == SYSTEM:
        return ssl.create_default_context()
    try:
        return ssl.create_default_context(cafile=folder / trusted)
    except (OSError, ssl.SSLError) as error:
        why = getattr(error, "strerror", None) or getattr(error, "reason", None) or str(error)
        raise HomeError(
            f"{folder / trusted}: cannot be used ({str(why).lower()}): name a file of "
            "certificates (PEM) as tls under [mqtt]"
        ) from error
