"""The study format as JSON Schema, for editors, services and other programs."""

from typing import Any

from models.nomenclature import FAMILIES, METRICS, PARAMETERS
from optim.study.reading import Table, accepted_keys
from optim.study.schema import (
    MOST_OBJECTIVES,
    CoolingTable,
    CycleTable,
    DutyTable,
    ModelTable,
    SearchTable,
    SpeedsTable,
    StudyTable,
    SupplyTable,
    TemperaturesTable,
    VehicleTable,
    machine_table,
)
from optim.study.units import keyed, unit_of

_INNER: tuple[type[Table], ...] = (
    SupplyTable, VehicleTable, CycleTable, SpeedsTable, CoolingTable, TemperaturesTable,
)  # fmt: skip


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a study file.

    Keys without a unit, which take text only, are listed beside those with one. Rules between
    values (low below high, say) are checked by `optim.study.loads` alone.
    """
    tables: dict[str, type[Table]] = {
        "study": StudyTable,
        "duty": DutyTable,
        "machine": machine_table(FAMILIES[0]),
        "search": SearchTable,
        "model": ModelTable,
    }
    definitions: dict[str, Any] = {}
    properties: dict[str, Any] = {}
    for key, table in tables.items():
        schema = table.model_json_schema(ref_template="#/$defs/{model}")
        definitions.update(schema.pop("$defs", {}))
        properties[key] = _with_bare_keys(schema, table)
    machine = properties["machine"]
    for family in FAMILIES[1:]:
        table = machine_table(family)
        more = _with_bare_keys(table.model_json_schema(), table)["properties"]
        machine["properties"] = {**more, **machine["properties"]}
    machine["required"] = []  # [families] may name the families instead
    for table in _INNER:
        definitions[table.__name__] = _with_bare_keys(definitions[table.__name__], table)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Study of an electric traction motor",
        "type": "object",
        "additionalProperties": False,
        "required": ["study", "duty", "objectives"],
        "anyOf": [{"required": ["machine", "variables"]}, {"required": ["families"]}],
        "properties": properties | _free_tables(machine),
        "$defs": definitions,
    }


def _with_bare_keys(schema: dict[str, Any], table: type[Table]) -> dict[str, Any]:
    """Return the schema of a table that also takes `name = "12 V"` for `name_v = 12`."""
    properties = dict(schema["properties"])
    required = set(schema.get("required", ()))
    either: list[dict[str, Any]] = []
    for key, field in accepted_keys(table).items():
        if key != field:
            properties[key] = {"type": "string", "description": "number and unit"}
            if field in required:
                required.remove(field)
                either.append({"anyOf": [{"required": [field]}, {"required": [key]}]})
    out = {**schema, "properties": properties, "required": sorted(required)}
    return {**out, "allOf": either} if either else out


def _free_tables(machine: dict[str, Any]) -> dict[str, Any]:
    value = {"type": ["number", "string"]}
    span = {"low": value, "high": value, "step": value, "start": value}
    choice = {"choices": {"type": "array", "minItems": 2, "items": value}, "start": value}
    variable = {
        "anyOf": [
            {"type": "object", "properties": span, "required": ["low", "high"],
             "additionalProperties": False},
            {"type": "object", "properties": choice, "required": ["choices"],
             "additionalProperties": False},
        ]
    }  # fmt: skip
    parameters = [k for n, p in PARAMETERS.items() for k in (n, keyed(n, unit_of(p)))]
    metrics = list(dict.fromkeys(k for n, m in METRICS.items() for k in (n, keyed(n, unit_of(m)))))
    text = {"type": "string"}
    limit = {"anyOf": [text, {"type": "array", "items": text, "minItems": 1}]}
    pair = {"type": "array", "items": value, "minItems": 2, "maxItems": 2}

    def table(entry: object, keys: list[str], least: int = 0) -> dict[str, Any]:
        names = {"enum": list(dict.fromkeys(keys))}
        return {"type": "object", "propertyNames": names, "additionalProperties": entry,
                "minProperties": least}  # fmt: skip

    variables = table(variable, parameters, 1)
    own = {"type": "object", "properties": {"machine": machine, "variables": variables},
           "additionalProperties": False}  # fmt: skip
    return {
        "variables": variables,
        "families": table(own, list(FAMILIES), 2),
        "objectives": table({"enum": ["minimise", "maximise"]}, list(METRICS), 1)
        | {"maxProperties": MOST_OBJECTIVES},
        "limits": table(limit, metrics),
        "prices": {"type": "object", "additionalProperties": value},
        "ranking": {
            "type": "object",
            "additionalProperties": False,
            "properties": {
                "weights": table({"type": "number", "minimum": 0}, list(METRICS)),
                "goals": table(value, metrics),
                "ranges": table(pair, metrics),
            },
        },
    }
