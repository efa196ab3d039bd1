"""A certificate that is renewed while the home runs."""

from __future__ import annotations

import datetime as dt
import socket
import ssl
import threading

from daylatch.commands.home import certificates
from daylatch.commands.home.certificates import Certificate, last_date_of
from peers.certificate import make_certificate


def shown(context):
    """Return the certificate that a new connection is shown."""
    ours, theirs = socket.socketpair()
    client = ssl.create_default_context()
    client.check_hostname, client.verify_mode = False, ssl.CERT_NONE

    def serve():
        with context.wrap_socket(theirs, server_side=True) as made:
            made.recv(1)

    server = threading.Thread(target=serve)
    server.start()
    with client.wrap_socket(ours) as made:
        found = made.getpeercert(binary_form=True)
        made.sendall(b"x")
    server.join(10)
    return ssl.DER_cert_to_PEM_cert(found)


def test_new_connections_get_the_new_one_and_a_broken_one_changes_nothing(tmp_path, monkeypatch):
    said = []
    monkeypatch.setattr(certificates, "warn", said.append)
    file, key = make_certificate(tmp_path)
    certificate = Certificate(file, key)
    first = file.read_text()
    assert shown(certificate.context) == first
    certificate.renew()
    make_certificate(tmp_path, dt.datetime(2030, 1, 1, 12, tzinfo=dt.UTC))
    second = file.read_text()
    certificate.renew()
    assert shown(certificate.context) == second != first
    assert last_date_of(file) == dt.date(2030, 1, 1)
    file.write_text("half a fi")
    certificate.renew()
    assert shown(certificate.context) == second
    assert len(said) == 1
    assert "the one before is used on" in said[0]
    assert last_date_of(file) is None
