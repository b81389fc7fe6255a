"""The client: the calculators over a transport."""

from __future__ import annotations

from collections.abc import Callable
from typing import Self

import requests

from ampstead_client.base import ClientBase
from ampstead_client.calculators import Calculators
from ampstead_client.embedded import EmbeddedTransport
from ampstead_client.transport import HttpTransport, Timeout, Transport


class AmpsteadClient(Calculators):
    """The calculators of the service at `base_url`, one method each; may be shared between threads.

    `timeout` is in seconds, for the whole of a question with its attempts and waits: one number, or (for each
    connection, for the whole). `retries` counts the attempts after the first, on connection faults and on the
    statuses 429, 502, 503 and 504. A `session` of your own is used as it is, retries included, and stays open.
    `app_name` joins the User-Agent. `key` is what the service's keeper gave you, if keys are asked for; if not given
    it is that of the environment's `AMPSTEAD_KEY`, if any. `request_id` is a function that names the request in hand,
    so that its trail goes on in the service's log; if not given each question gets a name of its own, which errors
    tell.

    Raises `ValueError` for a `base_url` or a setting that cannot be right.
    """

    def __init__(
        self,
        base_url: str,
        *,
        timeout: Timeout = 10.0,
        retries: int = 2,
        session: requests.Session | None = None,
        app_name: str | None = None,
        key: str | None = None,
        request_id: Callable[[], str | None] | None = None,
    ) -> None:
        super().__init__(
            HttpTransport(
                base_url,
                timeout=timeout,
                retries=retries,
                session=session,
                app_name=app_name,
                key=key,
                request_id=request_id,
            )
        )

    @classmethod
    def embedded(cls) -> Self:
        """A client of the service installed beside it, with no socket. Raises `NotInstalled`."""
        return cls.over(EmbeddedTransport())

    @classmethod
    def over(cls, transport: Transport) -> Self:
        """A client over a transport of your own, such as a recorded one in a test."""
        client = cls.__new__(cls)
        ClientBase.__init__(client, transport)
        return client
