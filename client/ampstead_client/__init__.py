"""Calculators for a model flier's battery packs, asked of an Ampstead service."""

from ampstead_client import calculators
from ampstead_client._version import __version__
from ampstead_client.batch import Batch, BatchRow
from ampstead_client.beyond import Doubt, Doubts, Needed, Overview, Verdict
from ampstead_client.calculators import *  # noqa: F403
from ampstead_client.client import AmpsteadClient
from ampstead_client.embedded import EmbeddedTransport
from ampstead_client.envelope import Answer, Band, Caution, Severity
from ampstead_client.errors import (
    AmpsteadError,
    AnswerFault,
    ConnectionFault,
    FieldError,
    InvalidQuestion,
    NotFound,
    NotInstalled,
    ServiceFault,
    TimedOut,
    TooLarge,
    TooMany,
    Unauthorised,
    Unreachable,
    Unreadable,
)
from ampstead_client.quantity import PintQuantity, QuantitiesLike, Quantity, QuantityLike
from ampstead_client.table import Cell, Table
from ampstead_client.transport import HttpTransport, Timeout, Transport

__all__ = [
    "AmpsteadClient",
    "AmpsteadError",
    "Answer",
    "AnswerFault",
    "Band",
    "Batch",
    "BatchRow",
    "Caution",
    "Cell",
    "ConnectionFault",
    "Doubt",
    "Doubts",
    "EmbeddedTransport",
    "FieldError",
    "HttpTransport",
    "InvalidQuestion",
    "Needed",
    "NotFound",
    "NotInstalled",
    "Overview",
    "PintQuantity",
    "QuantitiesLike",
    "Quantity",
    "QuantityLike",
    "ServiceFault",
    "Severity",
    "Table",
    "TimedOut",
    "Timeout",
    "TooLarge",
    "TooMany",
    "Transport",
    "Unauthorised",
    "Unreachable",
    "Unreadable",
    "Verdict",
    "__version__",
]
__all__ += calculators.__all__
