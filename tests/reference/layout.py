"""One field a line in every reference file, so that a change can be read; digits stay as they were printed.

Run as a script, it lays out all files anew.
"""

import json
import re
from pathlib import Path

DATA = Path(__file__).parent / "data"
MARK = "\u0001"


def laid_out(text: str) -> str:
    """The same JSON with one field or element a line."""
    kept = json.loads(text, parse_float=lambda digits: MARK + digits)
    marked = json.dumps(kept, ensure_ascii=False, indent=1)
    return re.sub(r'"\\u0001([^"]*)"', r"\1", marked) + "\n"


if __name__ == "__main__":
    for path in sorted(DATA.glob("*.json")):
        path.write_text(laid_out(path.read_text(encoding="utf-8")), encoding="utf-8")
