"""Open-circuit voltage tables, as numbers only.

Each full-cell table is the difference of the two electrodes' published potentials at 25 °C, at 51 evenly
spaced states of charge between the set's own voltage limits. They were computed from the parameter sets
that PyBaMM 26.10 ships (Copyright the PyBaMM team, BSD 3-Clause Licence); the papers behind the sets are:

- Ai2020 (LiCoO2/graphite pouch cell, 2.28 Ah): Ai, Kraft, Sturm, Jossen, Wu, J. Electrochem. Soc. 167
  (2020) 013512, doi:10.1149/2.0122001JES. **Published**; computed.
- Chen2020 (NMC811/graphite-SiOx, LG M50 21700): Chen, Brosa Planella, O'Regan, Gastol, Widanage, Kendrick,
  J. Electrochem. Soc. 167 (2020) 080534, doi:10.1149/1945-7111/ab9050. **Published**; computed.
- Prada2013 (LiFePO4/graphite): Prada et al., J. Electrochem. Soc. 160 (2013) A616, doi:10.1149/2.053304jes.
  **Published**; computed.

`SONY_LFP_2018` is the LiFePO4/graphite table for a Sony US26650FTC1 cell that simses 1.3 ships (Technical
University of Munich, BSD 3-Clause Licence), after Naumann's thesis (Munich 2018): millivolts rounded,
ten-percent steps.

`ARMY_TM_LEAD_ACID` is a 12 V lead-acid battery at rest: US Army TM 5-3805-262-20, page 5-142.
**Published**; the end points are printed as "or less" and "or more".

`STATE_AT_VOLTAGE` turns seven published 4.2 V sets round: the state of charge of each at one open-circuit
voltage. The five not named above: Ecker2015 (doi:10.1149/2.0551509jes), Mohtat2020
(doi:10.1149/1945-7111/aba5d1), OKane2022 (doi:10.1039/D2CP00417H), Kim2011 (doi:10.1149/1.3597614),
Ramadass2004 (doi:10.1149/1.1634273). **Published**; computed.
"""

STATES = tuple(step / 50 for step in range(51))

# fmt: off
AI_2020 = (
    3.0, 3.338764, 3.489299, 3.582505, 3.625013, 3.63956, 3.647563, 3.657224, 3.673268, 3.684724,
    3.695383, 3.705492, 3.713546, 3.719844, 3.726291, 3.733089, 3.739245, 3.745133, 3.75099, 3.756691,
    3.762193, 3.76761, 3.773363, 3.779043, 3.785612, 3.792508, 3.799908, 3.808006, 3.816698, 3.826175,
    3.836461, 3.847834, 3.860722, 3.875152, 3.891269, 3.90889, 3.926474, 3.943569, 3.960079, 3.976843,
    3.994483, 4.012542, 4.031476, 4.050065, 4.068471, 4.087947, 4.107847, 4.128071, 4.148785, 4.170022,
    4.2,
)

CHEN_2020 = (
    2.5, 2.862492, 3.050397, 3.155289, 3.227625, 3.295907, 3.363684, 3.41573, 3.447976, 3.46868,
    3.485189, 3.50136, 3.518984, 3.538641, 3.55988, 3.581446, 3.601934, 3.62051, 3.637151, 3.652397,
    3.667007, 3.681736, 3.697223, 3.713901, 3.731881, 3.750874, 3.770235, 3.789202, 3.807216, 3.824171,
    3.840577, 3.857772, 3.877927, 3.902007, 3.926551, 3.947906, 3.966758, 3.98503, 4.003734, 4.022955,
    4.04208, 4.059913, 4.074914, 4.08578, 4.092387, 4.096656, 4.102503, 4.114372, 4.135071, 4.164486,
    4.2,
)

PRADA_2013 = (
    2.0, 2.460021, 2.707735, 2.843246, 2.922251, 2.978092, 3.030822, 3.084331, 3.127731, 3.154356,
    3.168489, 3.176543, 3.182651, 3.188982, 3.196598, 3.205821, 3.216305, 3.227151, 3.237269, 3.245828,
    3.252499, 3.257391, 3.260841, 3.263226, 3.264874, 3.26603, 3.266867, 3.2675, 3.268005, 3.268432,
    3.268822, 3.269211, 3.269666, 3.270328, 3.271534, 3.274028, 3.27908, 3.287534, 3.297501, 3.305286,
    3.309691, 3.311821, 3.312857, 3.313435, 3.313833, 3.314167, 3.314523, 3.315272, 3.319306, 3.350173,
    3.6,
)
# fmt: on

SONY_LFP_2018 = (2.000, 3.189, 3.231, 3.267, 3.290, 3.299, 3.303, 3.309, 3.325, 3.342, 3.600)

ARMY_TM_LEAD_ACID = ((0.0, 11.7), (0.25, 12.0), (0.5, 12.2), (0.75, 12.4), (1.0, 12.6))

# Voltage, then percent in Ai2020, Ecker2015, Mohtat2020, Chen2020, OKane2022, Kim2011, Ramadass2004.
STATE_AT_VOLTAGE = (
    (3.30, 2.8, 5.2, 3.8, 10.1, 9.6, 14.2, 3.9),
    (3.40, 3.7, 8.2, 4.5, 13.8, 13.5, 22.3, 4.6),
    (3.50, 4.6, 13.0, 8.9, 21.7, 21.6, 30.7, 6.8),
    (3.60, 8.0, 20.9, 22.2, 31.9, 31.7, 40.2, 10.3),
    (3.70, 21.1, 29.1, 46.8, 44.3, 44.1, 51.9, 19.2),
    (3.75, 35.7, 36.3, 55.5, 49.9, 50.0, 57.9, 29.5),
    (3.80, 51.9, 55.6, 60.4, 55.2, 55.1, 63.3, 43.3),
    (3.82, 56.6, 60.9, 62.7, 57.6, 57.5, 65.3, 48.4),
    (3.85, 62.2, 66.0, 66.3, 61.0, 61.0, 67.9, 55.2),
    (3.90, 68.9, 71.5, 72.3, 65.9, 66.1, 72.3, 64.8),
    (4.00, 80.6, 81.5, 82.9, 75.6, 76.0, 82.0, 80.3),
    (4.10, 91.2, 91.9, 92.0, 90.6, 90.7, 91.8, 92.0),
    (4.15, 95.9, 96.1, 96.1, 96.7, 96.8, 96.1, 96.4),
)
