"""What a refusal writes is told as it can be heard."""

import pytest

from ampstead.replying.hearing import heard


@pytest.mark.parametrize(
    ("message", "said"),
    [
        (
            "must be at least -20 °C; -30.5 °C was read",
            "must be at least minus 20 degrees; minus 30.5 degrees were read",
        ),
        ("at most 1 MW; 5e+06 W was read", "at most 1 megawatt; 5000000 watts were read"),
        ("from 0.001 mm² to 1000 mm²", "from 0.001 square millimetres to 1000 square millimetres"),
        ("must be 3.00 to 4.20 V for a cell", "must be 3 to 4.2 volts for a cell"),
        ("at most 1 kW/K; 2000 W/K was read", "at most 1 kilowatt per kelvin; 2000 watts per kelvin were read"),
        ('write "-5 °C" or "2.50 mm²"', 'write "-5 °C" or "2.50 mm²"'),
        ("above 0; -5 A was read", "above 0; minus 5 amperes were read"),
        ("from 2026-04-18 on, load 1.", "from 2026-04-18 on, load 1."),
    ],
)
def test_a_written_message_is_told_as_it_can_be_heard(message: str, said: str) -> None:
    assert heard(message) == said
