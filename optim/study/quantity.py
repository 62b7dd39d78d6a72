"""Typed values of a study file: quantities with a unit and a range, for pydantic fields."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from optim.study.units import UNITS, Unit, UnitTextError, from_number, from_text, keyed


@dataclass(frozen=True)
class Quantity:
    """Marks a float field as a quantity; validated values are SI.

    Attributes
    ----------
    shown : str
        Unit of plain numbers (`optim.study.units.UNITS`).
    low, high : float
        Allowed range in that unit, ends included.
    """

    shown: str
    low: float
    high: float

    @property
    def unit(self) -> Unit:
        """Unit of plain numbers."""
        return UNITS[self.shown]

    @property
    def allowed(self) -> str:
        """The range in words."""
        return f"{self.low:g} to {self.high:g} {self.shown}".rstrip()

    def read(self, value: object) -> float:
        """Return a number or a text with a unit as SI.

        Raises
        ------
        UnitTextError
            If it is no quantity of this kind or outside the range.
        """
        if isinstance(value, str):
            si = from_text(value, self.unit)
        else:
            si = from_number(value, self.unit)
        self.check(si)
        return si

    def check(self, si: float) -> None:
        """Raise `UnitTextError` if an SI value is outside the range."""
        # A bound converted from another unit may miss the end by rounding only.
        slack = 1e-9 * max(abs(self.low), abs(self.high))
        shown = si * self.unit.per_si
        if not self.low - slack <= shown <= self.high + slack:
            raise UnitTextError(self.allowed)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Return the validator for pydantic."""

        def validate(value: object) -> float:
            try:
                return self.read(value)
            except UnitTextError as error:
                raise custom_error(str(error)) from error

        return core_schema.no_info_plain_validator_function(validate)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Return the JSON Schema of a number in range, or text with a unit."""
        number = {"type": "number", "minimum": self.low, "maximum": self.high}
        text = {"type": "string", "description": f"number and unit, as in {f'1 {self.shown}'!r}"}
        return {"anyOf": [number, text]}


@dataclass(frozen=True)
class Word:
    """Marks a str field as a word from a list that is known only when asked for."""

    words: Callable[[], tuple[str, ...]]

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Return the validator for pydantic."""

        def validate(value: object) -> str:
            words = self.words()
            if not isinstance(value, str) or value not in words:
                raise custom_error("one of " + ", ".join(words))
            return value

        return core_schema.no_info_plain_validator_function(validate)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Return the JSON Schema of a choice."""
        return {"type": "string", "enum": list(self.words())}


def custom_error(allowed: str) -> PydanticCustomError:
    """Return a validation error that carries what is allowed."""
    # Braces in the text would be taken for fields of the template.
    return PydanticCustomError("allowed", "{allowed}", {"allowed": allowed})


def read_keyed(key: str, value: object, name: str, *, quantity: Quantity) -> float:
    """Return the SI value of an entry whose key may or may not carry the unit.

    Parameters
    ----------
    key : str
        Key as given: `name`, or `name` with the unit's ending.
    value : object
        Number (only under the key with the unit) or text with a unit.
    name : str
        Name without unit.
    quantity : Quantity
        Unit and range.

    Raises
    ------
    UnitTextError
        If it is not allowed; the message says what is.
    """
    full = keyed(name, quantity.unit)
    if not isinstance(value, str) and key != full:
        raise UnitTextError(
            f"text with a unit, as in {f'12 {quantity.shown}'!r}, or a number under the key {full}"
        )
    return quantity.read(value)
