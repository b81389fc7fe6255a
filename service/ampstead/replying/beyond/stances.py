"""What an answer says of three questions that must have one reply: is this pack charged, is it flown, is it retired.

Each calculator judges by what it is told, and they are told different things: a pack that has lost too much of its
capacity is to be retired, though nothing forbids its charge. Where some say no and some say yes, no holds.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from ampstead.cell.kinds.chemistries import CHEMISTRIES
from ampstead.cell.limits.low_cells import low_cell_rate
from ampstead.declare import SLACK
from ampstead.judging.flying import SHORT_FLIGHT, grounded
from ampstead.judging.overfull import is_overfull
from ampstead.replying.answers import Answered

STATE = frozenset({"state_of_charge", "rest_voltage", "cell_voltages"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Stance:
    """What one answer says; None where it says nothing.

    ``charge``: it may be charged now. ``fly``: it is fit to fly, if charged. ``now``: it may fly as it is now.
    ``sound``: it is not to be retired. ``uses`` holds for what makes no sense for a pack that is.
    """

    charge: bool | None = None
    fly: bool | None = None
    now: bool | None = None
    sound: bool | None = None
    uses: bool = False


QUESTIONS = ("sound", "fly", "now", "charge")
FOLLOW: Mapping[str, tuple[str, ...]] = {
    "sound": ("sound", "fly", "now", "charge"),
    "fly": ("fly", "now"),
    "now": ("now",),
    "charge": ("charge",),
}
"""What a no denies: a pack that is retired is neither charged nor flown."""


def _flown(told: Answered, flies: bool) -> Stance:
    """A flight from the state that was told, or from full."""
    if STATE & told.known["given"]:
        return Stance(now=flies, uses=True)
    return Stance(fly=flies, uses=True)


def _endurance(told: Answered) -> Stance:
    if grounded(told.known["pack"]):
        return Stance(now=False, uses=True)
    return _flown(told, told.answer.time_flight >= SHORT_FLIGHT)


def _balance(told: Answered) -> Stance:
    known, answer = told.known, told.answer
    kind = CHEMISTRIES[known["chemistry"]]
    if is_overfull(kind, answer.highest_voltage):
        return Stance(charge=False)
    if answer.verdict != "suspect":
        return Stance()
    return Stance(now=False, charge=False if low_cell_rate(kind, known["cell_voltages"]) == 0 else None)


def _storage(told: Answered) -> Stance:
    plan = told.answer._plan
    if plan.refused or (plan.action == "charge" and plan.verdict.refused):
        return Stance(charge=False)
    return Stance(charge=True if plan.action == "charge" else None, uses=True)


def _fitness(told: Answered) -> Stance:
    verdict = told.answer.verdict
    return Stance(sound=verdict != "retire", fly=verdict == "flight" and told.answer.continuous_current > 0)


def _sag(told: Answered) -> Stance:
    told_low = told.answer.holds is False and STATE & told.known["given"]
    return Stance(now=False if told_low else None, uses=True)


STANCES: Mapping[str, Callable[[Answered], Stance]] = {
    "alarm-voltage": lambda told: Stance(fly=told.answer.alarm_voltage is not None, uses=True),
    "balance-need": _balance,
    "charge-current": lambda told: Stance(charge=told.answer.current > 0),
    "charge-left": lambda told: Stance(now=told.answer.flies, uses=True),
    "charge-temperature": lambda told: Stance(charge=told.answer.allowed),
    "cool-down": lambda told: Stance(uses=True),
    "endurance": _endurance,
    "flight-timer": lambda told: Stance(fly=True, uses=True),
    "nickel-charge": lambda told: Stance(charge=told.answer.current > 0),
    "pack-fitness": _fitness,
    "receiver-time": lambda told: _flown(told, told.answer.verdict == "go"),
    "safe-draw": lambda told: Stance(uses=True, fly=None if told.answer.continuous_current > 0 else False),
    "sag": _sag,
    "standing-loss": lambda told: Stance(sound=False if told.answer.verdict == "retire" else None),
    "storage": _storage,
    "warm-up": lambda told: Stance(uses=True),
    "wattage": lambda told: Stance(charge=told.answer.current > 0),
}
"""By calculator; one that is not named here says nothing of the three."""


def stance(told: Answered) -> Stance:
    """What an answer says."""
    own = STANCES.get(told.teller.calculator.name)
    return own(told) if own else Stance()


def too_weak(told: Mapping[str, Answered], typical: float | None, peak: float | None) -> bool:
    """Whether the flight asks for more than safe-draw allows, A."""
    draw = told.get("safe-draw")
    if draw is None:
        return False
    most = ((typical, draw.answer.continuous_current), (peak, draw.answer.burst_current))
    return any(asked is not None and asked > allowed * (1 + SLACK) for asked, allowed in most)


def denied(stances: Mapping[str, Stance], unsound: bool) -> dict[str, str]:
    """The questions that are answered by no, each with the calculator that says so (none for an unsound body)."""
    found: dict[str, str] = {}
    for question in QUESTIONS:
        deniers = [name for name, own in stances.items() if getattr(own, question) is False]
        if deniers or (question == "sound" and unsound):
            who = deniers[0] if deniers else ""
            for follows in FOLLOW[question]:
                found.setdefault(follows, who)
    return found


def contradicts(own: Stance, no: Mapping[str, str]) -> str | None:
    """The question that an answer replies to by yes where another says no; None where it contradicts nobody."""
    if "sound" in no and own.uses and not _all_no(own):
        return "sound"
    return next((question for question in QUESTIONS if question in no and getattr(own, question) is True), None)


def _all_no(own: Stance) -> bool:
    said = [getattr(own, question) for question in QUESTIONS]
    return False in said and True not in said


def granted(stances: Iterable[Stance], question: str) -> bool:
    """Whether anybody answers a question by yes."""
    return any(getattr(own, question) is True for own in stances)
