"""The tools that make clients of a document, and the service that those are to ask.

`tests/run` installs the ones of Node by `tests/generators/install`. Where they are missing the tests are skipped, but
for a machine that sets `CI`: there they fail.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from contract.serving import Running
from profiles import FULL

TOP = Path(__file__).resolve().parents[2]
MODULES = TOP / ".venv" / "node" / "node_modules"


@pytest.fixture(scope="package")
def site() -> Iterator[str]:
    """The address of the service, without a slash at its end."""
    server = Running(workers=1)
    yield server.base
    server.stopped()


@pytest.fixture(scope="package")
def modules() -> Path:
    """Where the packages of Node are."""
    if not (MODULES / ".bin" / "tsc").exists():
        missing = "needs node, npm and the packages that  sh tests/generators/install  fetches"
        pytest.fail(missing) if FULL else pytest.skip(missing)
    return MODULES
