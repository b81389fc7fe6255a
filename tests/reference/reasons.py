"""Why a result, or one of its words, is held against nothing from outside; and where the addresses beyond are checked.

A reason begins with whose word the result is. `COMMON` and `OWN` are policies: a case in the data says what they are,
and is met. The others are no figures at all.
"""

COMMON = "common practice, no published source"
OWN = "this project's own judgement"
GIVEN = "no figure: what was asked, said again"
WORDS = "no figure: words, for a figure that stands beside them"

POLICIES = (COMMON, OWN)
STARTS = (COMMON, OWN, "no figure: ")

CHARGING = {
    "full": f"{COMMON}: 4.2 V a lithium-polymer cell is full",
    "suspect-cell": f"{OWN}: a cell that stands out is charged gently, or not with others",
    "cell-count": f"{OWN}: a voltage that fits fewer cells better is no ground to charge more",
    "condition": f"{OWN}: no pack that is not sound is charged",
}

REASONS: dict[str, dict[str, dict[str, str]]] = {
    "balance-need": {
        "balance": dict.fromkeys(("yes", "no"), f"{COMMON}: 20 mV is level enough"),
        "verdict": dict.fromkeys(("level", "drifting", "balance", "suspect"), f"{OWN}: parts of that limit"),
    },
    "carriage": {"advice": {"": f"{WORDS}, `category`"}},
    "charge-current": {
        "limited_by": CHARGING,
        "stop_temperature": {"": f"{COMMON}: the strictest that is told, 50 °C"},
    },
    "charge-left": {"flies": dict.fromkeys(("yes", "no"), f"{OWN}: from 60 percent by the low edge")},
    "charge-session": {
        "plan.pack": {"": GIVEN},
        "plan.charger": {"": GIVEN},
        "late.pack": {"": GIVEN},
        "late.need_by": {"": GIVEN},
        "late.late_by": {"": f"{OWN}: by the high edge of the band of a charge's time"},
        "unserved.pack": {"": GIVEN},
        "unserved.why": {"": "no figure: the reason in words; tests/unit/calculators/test_charge_session.py sees each"},
    },
    "charge-temperature": {
        "stop_temperature": {"": f"{COMMON}: 50 °C"},
        "rise_alarm": {"": f"{OWN}: what a charge may warm a pack by before somebody looks"},
    },
    "group-charge": {
        "packs.name": {"": GIVEN},
        "limited_by": CHARGING | {"low-cell": f"{OWN}: below 3 V at a tenth of the capacity an hour at most"},
        "stop_temperature": {"": f"{COMMON}: the strictest that is told, 50 °C"},
    },
    "match-packs": {
        "groups.names": {"": GIVEN},
        "left_out.name": {"": GIVEN},
        "left_out.why": {
            "condition": f"{OWN}: a pack that is not sound goes nowhere",
            "suspect-cell": f"{OWN}: nor one with a cell that stands out",
            "low-cell": f"{OWN}: nor one with a dead cell",
            "cell-count": f"{OWN}: nor one of whose cell count there is doubt",
            "full": f"{OWN}: nor, in parallel, one above its end of charge",
            "too-unlike": f"{OWN}: more than 30 percent unlike",
        },
        "proven": {"no": "no figure: says that the search was cut short; tests/unit/planning/test_grouping.py sees it"},
    },
    "nickel-charge": {"stop_temperature": {"": f"{COMMON}: 50 °C"}},
    "pack-fitness": {
        "verdict": {
            "flight": f"{OWN}: nothing found against it",
            "other-model": f"{OWN}: the limits on draw are, and so what is too weak",
            "retire": f"{COMMON}: below 80 percent of its label",
        },
        "reasons.finding": {"": f"{WORDS}, `reasons.figure`"},
        "reasons.limit": {"": f"{WORDS}, `reasons.figure`"},
        "reasons.basis": {"": "no figure: whose judgement the finding is"},
    },
    "pack-for-model": {"binds": {"condition": f"{OWN}: no pack that is not sound suits"}},
    "series-join": {
        "verdict": dict.fromkeys(
            ("join", "with-care", "do-not-join"), f"{OWN}: by parts of capacity, state and resistance"
        )
    },
    "standing-loss": {
        "verdict": dict.fromkeys(("steady", "watch", "retire"), f"{OWN}: millivolts a day that stand out")
    },
    "supply-split": {"allotments.name": {"": GIVEN}},
}

BEYOND = (
    (
        "/v1/overview",
        "each calculator's own answer, which the tables above hold; 5,000 random packs, no two answers at odds",
        "tests/contract/test_overview.py::test_no_two_answers_disagree_on_charging_flying_or_retiring",
    ),
    (
        "/v1/<calculator>/doubt",
        "draws over all declared ranges at once: 95 of 100 lie within the band",
        "tests/contract/test_doubt.py::test_ninety_five_of_a_hundred_draws_over_the_doubts_lie_within_the_band",
    ),
    (
        "/v1/<calculator>/doubt",
        "each edge asked forward",
        "tests/contract/test_doubt.py::test_each_edge_asked_forward_gives_what_was_said",
    ),
    (
        "/v1/<calculator>/needed",
        "asked forward at what it found, and just beyond it",
        "tests/contract/test_needed.py::test_a_wish_is_met_at_the_edge_and_not_beyond_it",
    ),
    (
        "/v1/<calculator>/batch",
        "the same questions one by one",
        "tests/contract/test_batch.py",
    ),
)
"""Addresses that ask calculators: what they are held against, and the test that does it."""
