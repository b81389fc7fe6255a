"""What a battery at the field can recharge."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from math import isfinite
from typing import Annotated, Any, ClassVar, Literal

import numpy as np

from ampstead.bands import EFFICIENCIES
from ampstead.cautions import caution, charging
from ampstead.cell.charge import charge
from ampstead.cell.chemistries import CHEMISTRIES
from ampstead.cell.field_source import Drain, drained
from ampstead.cell.resistance import TIME_CONSTANT
from ampstead.cell.sizing import HOUR
from ampstead.charging import allowed_current, pack_cautions, refusal
from ampstead.declare import (
    Band,
    Caution,
    Choice,
    Floats,
    Fraction,
    Group,
    Items,
    Nested,
    Number,
    OneOf,
    Quantity,
    derived,
)
from ampstead.errors import FieldError
from ampstead.inputs import MOST_POWER, ChargeRate, Efficiency, LeadResistance, usual_charge_rate
from ampstead.joining import cells_told
from ampstead.pack import (
    MOST_CELLS,
    MOST_CELLS_LITHIUM,
    ROOM,
    Capacity,
    Checks,
    ChemistryName,
    Pack,
    cells_in_range,
    has_curve,
    lengths_agree,
    usual_cell_resistance,
    usual_polarisation,
    voltages_in_range,
)
from ampstead.sketch import Chart, Limit, Panel
from ampstead.words import amperes, capitalised, count, degrees, number, percent, sentences, volts, watts
