"""What is printed as JSON, held against the schemas that come with the program."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from jsonschema import Draft202012Validator
from referencing import Registry, Resource

#: Every schema by its name.
SCHEMAS: dict[str, dict[str, Any]] = {
    path.name.removesuffix(".schema.json"): json.loads(path.read_text(encoding="utf-8"))
    for path in files("tether").joinpath("schemas").iterdir()
    if path.name.endswith(".schema.json")
}
_ALL: Registry[Any] = Registry().with_resources(
    (schema.get("$id", name), Resource.from_contents(schema)) for name, schema in SCHEMAS.items()
)


def valid(name: str, text: str) -> Any:
    """Return what a text holds that is JSON and nothing else, valid by a schema and without numbers that are none."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    data = json.loads(text, parse_constant=refuse)
    checker = Draft202012Validator.FORMAT_CHECKER
    Draft202012Validator(SCHEMAS[name], registry=_ALL, format_checker=checker).validate(data)
    return data
