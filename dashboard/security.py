"""Who may talk to the server: only pages it served itself, under a name of this machine.

A page of another site can send requests to a server on this machine, and a name that somebody else owns
can be pointed at 127.0.0.1 while it is open. So the Host of every request must be a name this server was
started under, and where an Origin is given it must be the very same address. The headers forbid the
pages to fetch anything from elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from urllib.parse import urlsplit

from flask import Flask, Response, request

LOCAL_HOSTS = frozenset({"localhost", "127.0.0.1", "::1"})


def host_name(address: str) -> str | None:
    """Take the name out of ``name:port``; ``None`` for what is no such thing.

    >>> host_name("127.0.0.1:8050"), host_name("[::1]:8050"), host_name("user@evil")
    ('127.0.0.1', '::1', None)
    """
    try:
        parts = urlsplit(f"//{address}")
        _ = parts.port  # raises where it is no number
    except ValueError:
        return None
    if parts.username is not None or parts.path or parts.query or parts.fragment:
        return None
    return parts.hostname


def allowed(host: str, origin: str | None, hosts: Collection[str]) -> bool:
    """Say whether a request with these headers came from a page of this server.

    >>> allowed("localhost:8050", "http://localhost:8050", LOCAL_HOSTS)
    True
    >>> allowed("localhost:8050", "http://localhost:9000", LOCAL_HOSTS)
    False
    """
    if host_name(host) not in hosts:
        return False
    if origin is None:
        return True
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and parts.netloc.lower() == host.lower()


def guard(server: Flask, hosts: Collection[str], script_hashes: Callable[[], Sequence[str]]) -> None:
    """Check every request of a server and put the security headers on every answer.

    ``script_hashes`` gives the hashes of the inline scripts; it is asked for each page, because Dash adds
    one of its own when the first request comes.
    """
    names = frozenset(host.lower() for host in hosts)
    # Plotly and Dash write style elements as they go, hence 'unsafe-inline' for styles; scripts are
    # only those of the packages and the few inline ones known by their hash.
    policy = "; ".join(
        (
            "default-src 'self'",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )

    @server.before_request
    def refuse_strangers() -> Response | None:
        if allowed(request.headers.get("Host", ""), request.headers.get("Origin"), names):
            return None
        text = "Refused: this page was not opened on the machine flatfoot runs on.\n"
        return Response(text, status=403, mimetype="text/plain")

    # The first check of all: Dash registers its own before_request functions too.
    server.before_request_funcs[None].insert(0, server.before_request_funcs[None].pop())

    @server.after_request
    def add_headers(response: Response) -> Response:
        hashes = script_hashes() if response.mimetype == "text/html" else ()
        scripts = " ".join(("script-src 'self'", *hashes))
        response.headers["Content-Security-Policy"] = f"{policy}; {scripts}"
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["X-Frame-Options"] = "DENY"
        response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
        response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        return response
