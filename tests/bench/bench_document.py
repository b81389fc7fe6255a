"""Sizes of the document, as served and compressed, and of the generated client: kept small by looking at them.

python tests/bench/bench_document.py
"""

import gzip
from pathlib import Path

from ampstead.app import create_app
from ampstead.calculators import registry

CLIENT = Path(__file__).resolve().parents[2] / "client" / "ampstead_client" / "calculators.py"


def main() -> None:
    count = len(registry())
    http = create_app().test_client()
    for name, content in (
        ("openapi.json", http.get("/openapi.json").data),
        ("/docs", http.get("/docs").data),
        (CLIENT.name, CLIENT.read_bytes()),
    ):
        packed = len(gzip.compress(content, 9))
        each = f"{len(content) / count / 1000:.1f} and {packed / count / 1000:.2f} kB a calculator"
        print(f"{name:15} {len(content) / 1000:7.1f} kB, {packed / 1000:6.1f} kB compressed; {each}")


if __name__ == "__main__":
    main()
