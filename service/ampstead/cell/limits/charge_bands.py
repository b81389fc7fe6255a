"""How much of its usual charge a cell takes at a temperature, and up to which voltage.

The published limits for lithium conflict; the strictest is taken:

- none below 0 or above 40 °C: NFPA, quoted by the US Fire Administration. **Published**. Cell makers' sheets allow up
  to 45 °C, a Japanese guideline as told by a circuit maker up to 60 °C at lower voltages.
- from 0 to 10 °C a fifth of the usual current: default of a published charger circuit (TI BQ25882). **Published**.
  The guideline halves the current or lowers the voltage of 4.20 V cells to 4.10 V; the voltage is lowered as well.

Nickel takes a fifth of its usual rate from 0 to 10 °C, the slow charge of makers' sheets; lead-acid is charged from
−10 to 40 °C, where sheets go down to −15. **Common practice**, from memory. The bands stand with the chemistries.

Kelvin, volts per cell.
"""

from ..kinds.chemistries import Chemistry

COOL_PART = 0.2
STOP_TEMPERATURE = 323.15
"""50 °C, at which a charge is cut off. **Common practice**, no published source."""
FREEZING = 273.15
SLACK = 1e-9


def is_too_cold(kind: Chemistry, temperature: float) -> bool:
    """Whether no charge may be started for cold."""
    return temperature < kind.charge_band.coldest - SLACK


def is_too_hot(kind: Chemistry, temperature: float) -> bool:
    """Whether no charge may be started for heat."""
    return temperature > kind.charge_band.hottest + SLACK


def is_cool(kind: Chemistry, temperature: float) -> bool:
    """Whether the cold takes a part of rate and voltage."""
    cool = kind.charge_band.cool
    return cool is not None and temperature <= cool + SLACK


def charge_part(kind: Chemistry, temperature: float) -> float:
    """The part of the usual rate that a temperature leaves: 1, a fifth, or none."""
    if is_too_cold(kind, temperature) or is_too_hot(kind, temperature):
        return 0.0
    return COOL_PART if is_cool(kind, temperature) else 1.0


def charge_voltage(kind: Chemistry, temperature: float) -> float:
    """The end-of-charge voltage that a temperature at which a cell may be charged leaves."""
    return kind.end_of_charge - (kind.charge_band.cool_cut if is_cool(kind, temperature) else 0.0)


def may_be_frozen(kind: Chemistry, temperature: float) -> bool:
    """Whether a flat one may be frozen."""
    return kind.may_freeze and temperature < FREEZING - SLACK
