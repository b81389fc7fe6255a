"""How charged packs are to begin with, in words: by what was told, so that no figure is spoken that nobody gave."""

from collections.abc import Sequence

from ampstead.inputs.pack import Pack
from ampstead.words import percent, volts


def state_words(pack: Pack) -> str:
    """``20 percent charge``, ``11.31 volts at rest`` or ``cells at 3.75 to 3.79 volts``."""
    if pack.cell_voltages is not None:
        cells = pack.cell_voltages.tolist()
        low, high = volts(min(cells)), volts(max(cells))
        return f"cells at {high}" if low == high else f"cells at {low.split(' ')[0]} to {high}"
    if pack.rest_voltage is not None:
        return f"{volts(pack.rest_voltage)} at rest"
    return f"{percent(min([state for state, _ in pack.fills]))} charge"


def lowest_state_words(packs: Sequence[Pack]) -> str:
    """The same of the emptiest of several packs; ``the emptiest at 11.31 volts at rest`` where others differ."""
    said = {state_words(pack) for pack in packs}
    emptiest = state_words(min(packs, key=lambda pack: min(pack.states().tolist())))
    return emptiest if len(said) == 1 else f"{emptiest} in the emptiest"
