"""How properties are asked: one hypothesis profile for every test, loaded here before any test is made.

No deadline, since machines differ; the same questions on each run; a few by default, many where ``CI`` is set.
"""

import os

from hypothesis import HealthCheck, Phase, settings

FULL = os.environ.get("CI", "").lower() in ("1", "true", "yes")
"""Whether properties are asked in full."""


def count(quick: int, full: int) -> int:
    """Examples for one property: the first by default, the second where properties are asked in full."""
    return full if FULL else quick


settings.register_profile(
    "ampstead",
    deadline=None,
    derandomize=True,
    max_examples=count(10, 100),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("ampstead")

few = settings(max_examples=count(5, 40), phases=[Phase.explicit, Phase.generate])
"""For a property whose every question takes tens of milliseconds: making a failure smaller would take minutes."""
