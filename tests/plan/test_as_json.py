"""`ladder --json`: the promised names, valid by the schema, for every shape a ladder can have."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator, ValidationError

from tests.plan.plans import BASE, HEAD, MIRROR, SIX, TEN, ladder_of
from tether.plan.as_json import ladder_json, planned_of

SCHEMA = json.loads(files("tether").joinpath("schemas/ladder.schema.json").read_text(encoding="utf-8"))
#: The names that other programs may rely on.
PROMISED = {"schema", "plan", "base", "forecast_s", "rungs", "turns", "cautions"}
PROMISED_OF_A_RUNG = {
    *("rung", "time_s", "time_label", "aperture", "aperture_label", "iso", "iso_label", "filters", "filter_stops"),
    *("way", "frames", "darker_by_stops", "error_stops", "reason"),
}


@pytest.mark.parametrize(
    ("text", "head"),
    [
        (BASE + '[rungs]\nfrom = "1/2000"\nto = "4m"\n[run]\ndark_frames = "at the end"\n' + SIX + TEN, HEAD),
        (BASE + '[rungs]\ntimes = ["1/8000"]\n', HEAD),
        ('[base]\ntime = "1/30"\naperture = "f/8"\niso = 100\n[rungs]\ntimes = ["2m"]\n' + SIX, MIRROR),
    ],
    ids=["held, test exposure, darks", "nothing reached", "many"],
)
def test_a_ladder_is_valid_by_its_schema(text: str, head: str) -> None:
    data = json.loads(json.dumps(ladder_json(planned_of(ladder_of(text, head, others=2))), allow_nan=False))
    Draft202012Validator(SCHEMA).validate(data)
    assert data.keys() >= PROMISED
    for rung in data["rungs"]:
        assert rung.keys() >= PROMISED_OF_A_RUNG


def test_the_schema_refuses_what_it_should() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    data = json.loads(json.dumps(ladder_json(planned_of(ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n')))))
    data["rungs"][0]["way"] = "somehow"
    with pytest.raises(ValidationError):
        Draft202012Validator(SCHEMA).validate(data)


def test_exact_numbers_and_sent_labels_are_kept_apart() -> None:
    (rung,) = planned_of(
        ladder_of('[base]\ntime = "1/60"\naperture = "f/11"\niso = 100\n[rungs]\ntimes = ["1/60"]\n')
    ).rungs
    assert (rung.time_s, rung.time_label) == (2**-6, "1/60")
    assert (rung.aperture, rung.aperture_label) == (2**3.5, "f/11")


def test_what_was_learned_is_there_only_where_something_was() -> None:
    ladder = ladder_of(BASE + '[rungs]\ntimes = ["1/125"]\n')
    assert "learned" not in ladder_json(planned_of(ladder))
    said = ("From 3 outings: 41 s to screw a filter on.",)
    data = json.loads(json.dumps(ladder_json(planned_of(replace(ladder, learned=said)))))
    assert data["learned"] == list(said)
    Draft202012Validator(SCHEMA).validate(data)
