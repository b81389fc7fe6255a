"""Beyond single answers: all that can be said of one pack, which input to measure, and which value makes it so.

``places`` makes the one table of their addresses behind ``/v1/``, for the service and whoever embeds it.
"""

from collections.abc import Mapping
from functools import partial

from ampstead.declare import Calculator, ItemType
from ampstead.replying.beyond.doubt import Doubts, doubt
from ampstead.replying.beyond.needed import Needed, needed
from ampstead.replying.beyond.overview import FACTS, Overview, overview
from ampstead.replying.forms import Form

JSON, TEXT = "application/json", "text/plain"
OF_A_CALCULATOR = (
    Form("/needed", JSON, Needed.json, ask=needed),
    Form("/needed.txt", TEXT, Needed.spoken, spoken=True, ask=needed),
    Form("/doubt", JSON, Doubts.json, ask=doubt),
    Form("/doubt.txt", TEXT, Doubts.spoken, spoken=True, ask=doubt),
)
"""What may be asked about a calculator's questions."""


def places(calculators: Mapping[str, Calculator]) -> dict[str, tuple[Calculator | ItemType, Form]]:
    """Who answers at each address, and how."""
    asked = partial(overview, calculators)
    made: dict[str, tuple[Calculator | ItemType, Form]] = {
        "overview": (FACTS, Form("", JSON, Overview.json, ask=asked)),
        "overview.txt": (FACTS, Form(".txt", TEXT, Overview.spoken, spoken=True, ask=asked)),
    }
    for name, calculator in calculators.items():
        made |= {f"{name}{form.suffix}": (calculator, form) for form in OF_A_CALCULATOR}
    return made
