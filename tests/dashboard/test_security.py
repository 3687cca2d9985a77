"""Only pages of this server, under a name of this machine, may talk to it."""

from __future__ import annotations

import http.client
import threading

import pytest

from dashboard.app import create_app
from dashboard.commands.serve import MOST_BYTES, web_server
from dashboard.security import LOCAL_HOSTS, allowed, host_name

GOOD = {"Host": "127.0.0.1:8050"}


@pytest.fixture(scope="module")
def client(shop):
    return create_app(shop.book).server.test_client()


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1.evil.example:8050", "", "localhost@evil.example", "evil#localhost", "a:b:c"],
)
@pytest.mark.parametrize("path", ["/", "/_dash-layout", "/_dash-dependencies", "/assets/look.css"])
def test_a_foreign_host_is_refused_everywhere(client, host: str, path: str) -> None:
    with client.get(path, headers={"Host": host}) as answer:
        assert answer.status_code == 403
        assert b"Refused" in answer.data


@pytest.mark.parametrize("host", ["127.0.0.1:8050", "localhost:1", "LOCALHOST", "[::1]:8050"])
def test_names_of_this_machine_are_served(client, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "http://127.0.0.1:9999", "null", "file://", "http://["]
)
def test_a_callback_from_elsewhere_is_refused(client, origin: str) -> None:
    body = {"output": "x", "inputs": [], "changedPropIds": []}
    answer = client.post("/_dash-update-component", json=body, headers={**GOOD, "Origin": origin})
    assert answer.status_code == 403


def test_a_callback_from_its_own_page_comes_through(client) -> None:
    answer = client.get("/_dash-dependencies", headers={**GOOD, "Origin": "http://127.0.0.1:8050"})
    assert answer.status_code == 200


def test_every_answer_forbids_other_places(client) -> None:
    for path in ("/", "/_dash-layout", "/assets/look.css", "/job/nothing"):
        with client.get(path, headers=GOOD) as answer:
            headers = answer.headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "http" not in policy
        assert "unsafe-eval" not in policy
        assert "unsafe-inline" not in policy.partition("script-src")[2]
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "no-referrer"


def test_the_page_names_no_other_place(client) -> None:
    page = client.get("/", headers=GOOD).get_data(as_text=True)
    assert "http://" not in page
    assert "https://" not in page
    assert '<html lang="en">' in page


def test_hosts_can_be_named_by_the_caller(shop) -> None:
    client = create_app(shop.book, hosts={"bench.lan"}).server.test_client()
    assert client.get("/", headers={"Host": "bench.lan:8050"}).status_code == 200
    assert client.get("/", headers=GOOD).status_code == 403


def test_a_huge_request_is_refused_before_it_fills_the_disk(shop) -> None:
    server = web_server(create_app(shop.book).server, 0)
    runs = threading.Thread(target=server.run, daemon=True)
    runs.start()
    try:
        asks = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=10)
        asks.putrequest("POST", "/_dash-update-component")
        asks.putheader("Content-Length", str(MOST_BYTES + 1))
        asks.endheaders()
        with asks.getresponse() as answer:
            assert answer.status == 413
        asks.close()
    finally:
        server.close()
        runs.join(5)


def test_host_names_and_origins() -> None:
    assert host_name("localhost:99999999") is None
    assert allowed("localhost:80", None, LOCAL_HOSTS)
    assert not allowed("localhost:80", "ftp://localhost:80", LOCAL_HOSTS)
