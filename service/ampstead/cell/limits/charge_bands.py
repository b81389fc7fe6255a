"""How much of its usual charge a cell takes at a temperature, and up to which voltage.

The published limits for lithium conflict; the strictest is taken:

- none below 0 or above 40 °C: NFPA, quoted by the US Fire Administration. **Published**. Cell makers' sheets allow up
  to 45 °C, a Japanese guideline as told by a circuit maker up to 60 °C at lower voltages.
- from 0 to 10 °C a fifth of the current: default of a published charger circuit (TI BQ25882). **Published**. The
  guideline halves the current or lowers the voltage to 4.10 V instead.

Kelvin, volts per cell.
"""

COLDEST, COOL, HOTTEST = 273.15, 283.15, 313.15
"""0, 10 and 40 °C."""
COOL_PART = 0.2
COOL_VOLTAGE_CUT = 0.10
"""V below 4.20, where the guideline lowers the voltage in the cold."""
STOP_TEMPERATURE = 323.15
"""50 °C, at which a charge is cut off. **Common practice**, no published source."""
LEAD_COLDEST = 258.15
"""−15 °C, of sealed lead-acid batteries' sheets. **Common practice**, from memory."""
SLACK = 1e-9


def charge_part(temperature: float, coldest: float = COLDEST) -> float:
    """The part of the charge current otherwise allowed that a temperature leaves: 1, a fifth, or none."""
    if temperature < coldest - SLACK or temperature > HOTTEST + SLACK:
        return 0.0
    return COOL_PART if coldest == COLDEST and temperature <= COOL + SLACK else 1.0


def charge_voltage(temperature: float, end_of_charge: float) -> float:
    """The end-of-charge voltage that a temperature at which a cobalt or nickel lithium cell may be charged leaves."""
    return end_of_charge - (COOL_VOLTAGE_CUT if temperature <= COOL + SLACK else 0.0)
