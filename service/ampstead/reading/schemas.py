"""The full way to read a question: a marshmallow schema of the same readers, which finds every error at once."""

from collections.abc import Mapping
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, pre_load
from marshmallow.fields import Field

from ampstead.declare import Input
from ampstead.errors import FieldError, Refusal, clipped, did_you_mean, nearest
from ampstead.reading.names import blank
from ampstead.reading.readers import Reader
from ampstead.units import Unreadable

MOST_UNKNOWN = 10
"""Unknown names told one by one; of more, the number is said."""


def schema(readers: Mapping[str, Reader]) -> Schema:
    """The schema of some inputs."""
    return _Schema.from_dict({name: _Read(read) for name, read in readers.items()})()


class _Schema(Schema):
    class Meta:
        unknown = RAISE

    @pre_load
    def without_blanks(self, raw: Any, **_: Any) -> dict[str, Any]:
        """An input of null or of empty text counts as not given; an unknown name stays, to be refused."""
        return {name: value for name, value in raw.items() if name not in self.fields or not blank(value)}


class _Read(Field[Any]):
    """A marshmallow field that reads one input and fails with this project's own error entries."""

    def __init__(self, read: Reader) -> None:
        super().__init__()
        self._read = read

    def _deserialize(self, value: Any, attr: str | None, data: Any, **_: Any) -> Any:
        name = str(attr)
        try:
            return self._read(value)
        except Unreadable as fault:
            raise ValidationError([FieldError(name, fault.code, f"{name} {fault.message}")]) from None
        except Refusal as refusal:
            raise ValidationError([refusal]) from None


def loaded(
    made: Schema, raw: Mapping[str, Any], inputs: Mapping[str, Input]
) -> tuple[dict[str, Any], list[FieldError], int]:
    """What could be read, every error, and how many more there are."""
    try:
        return made.load(raw), [], 0
    except ValidationError as fault:
        errors: list[FieldError] = []
        more = unknown = 0
        messages = fault.messages if isinstance(fault.messages, dict) else {}
        for name, told in messages.items():
            for entry in told if isinstance(told, list) else [told]:
                if isinstance(entry, FieldError):
                    errors.append(entry)
                elif isinstance(entry, Refusal):
                    errors += entry.errors
                    more += entry.more
                elif unknown < MOST_UNKNOWN:
                    unknown += 1
                    errors.append(_unknown(name, inputs))
                else:
                    more += 1
        return dict(fault.valid_data) if isinstance(fault.valid_data, dict) else {}, errors, more


def _unknown(name: str, inputs: Mapping[str, Input]) -> FieldError:
    said = clipped(name)
    hint = did_you_mean(name, inputs) or f"; the nearest are {nearest(name, inputs)}"
    return FieldError(said, "unknown", f"{said} is not an input here{hint}")
