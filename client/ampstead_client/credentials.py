"""Where the service is, and who asks: neither a key nor a password is ever shown."""

from __future__ import annotations

import os
from urllib.parse import urlsplit, urlunsplit

import requests
from requests.auth import AuthBase
from requests.utils import get_auth_from_url

KEY = "AMPSTEAD_KEY"
"""What the environment calls the key."""


def address_and_credentials(base_url: str) -> tuple[str, tuple[str, str] | None]:
    wanted = 'base_url must look like "https://host:port/prefix"'
    if any(character.isspace() for character in base_url):
        raise ValueError(f"{wanted}, with no space in it")
    try:
        parts = urlsplit(base_url)
        valid = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        valid = False
    if not valid:
        raise ValueError(f"{wanted}: http or https, a host, and a port up to 65535 if any")
    if "?" in base_url or "#" in base_url:
        raise ValueError(f"{wanted}, with no query and no fragment")
    host = parts.netloc.rpartition("@")[2]
    clean = urlunsplit((parts.scheme, host, parts.path.rstrip("/"), "", ""))
    user, password = get_auth_from_url(base_url)
    return clean, (user, password) if user or password else None


class _Bearer(AuthBase):
    """As an authorisation and not as a header, which requests replaces by what a .netrc file has for the host."""

    def __init__(self, key: str) -> None:
        self._key = key

    def __call__(self, request: requests.PreparedRequest) -> requests.PreparedRequest:
        request.headers["Authorization"] = f"Bearer {self._key}"
        return request


def authorisation(
    credentials: tuple[str, str] | None, key: str | None, session: requests.Session | None
) -> tuple[str, str] | AuthBase | None:
    if key is None:
        own = session is not None and (session.auth is not None or "Authorization" in session.headers)
        key = "" if credentials or own else os.environ.get(KEY, "")
    elif credentials:
        raise ValueError("give either a key, or a user and password in base_url")
    if not key:
        return credentials
    if not plain(key):
        raise ValueError(f"the key must be plain ASCII text without spaces (it is given as key, or in {KEY})")
    return _Bearer(key)


def plain(text: str) -> bool:
    return text.isascii() and text.isprintable() and " " not in text
