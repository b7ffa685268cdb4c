"""What a new plan is made from: options, and what is asked for at a terminal, each answer checked as it is given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import click
from click.core import ParameterSource

from tether.body.bodyfile import load_body_file
from tether.command.common import talk
from tether.errors import PlanError
from tether.exposure.strengths import Strength
from tether.outing.prepare import measured_filters
from tether.plan.answers import filter_of, parts_of, read_answer
from tether.plan.new import NewFilter

_QUESTIONS = {
    "title": "What is the outing called",
    "base_time": "Time of the base exposure",
    "base_aperture": "Its aperture",
    "base_iso": "Its ISO",
    "focal_mm": "Focal length",
    "shortest": "Shortest rung",
    "longest": "Longest rung",
}
#: The options of those, and of what is not asked for.
_OPTIONS = {
    "title": "--title",
    "widest": "--widest",
    "narrowest": "--narrowest",
    "base_time": "--time",
    "base_aperture": "--aperture",
    "base_iso": "--iso",
    "focal_mm": "--focal",
    "shortest": "--shortest",
    "longest": "--longest",
}
_FILTERS = 'Filters on hand, such as "ND64, Calder 10 = 10 stops, polariser" (none: press return)'
_MORE_FILTERS = "More filters (none: press return)"


def answered(
    context: click.Context, options: Mapping[str, object], filters: Sequence[str], *, asking: bool
) -> tuple[dict[str, object], list[NewFilter]]:
    """Return all answers and filters: options are checked at once; what was not given is asked for where `asking`.

    Raises PlanError with a sentence for each option that makes no sense.
    """

    def given(name: str) -> bool:
        return context.get_parameter_source(name) is not ParameterSource.DEFAULT

    to_ask = [name for name in _QUESTIONS if asking and not given(name)]
    bag = _bag(str(options["body"]))
    answers, on_hand = _from_options({key: value for key, value in options.items() if key not in to_ask}, filters, bag)
    for name in to_ask:
        answers[name] = _ask(name, str(options[name]), answers)
    if asking and not given("filters"):
        on_hand = _ask_filters(bag)
    return answers, on_hand


def _from_options(
    options: Mapping[str, object], filters: Sequence[str], bag: Sequence[NewFilter]
) -> tuple[dict[str, object], list[NewFilter]]:
    """Read what was given as options. Raises PlanError with a sentence for each that makes no sense."""
    answers: dict[str, object] = {name: value for name, value in options.items() if name not in _OPTIONS}
    on_hand, wrong = list[NewFilter](), list[str]()
    for name in (name for name in _OPTIONS if name in options):
        try:
            answers[name] = read_answer(name, str(options[name]), answers).value
        except PlanError as error:
            wrong.append(f"{_OPTIONS[name]} {options[name]}: {error}")
    for text in filters:
        try:
            on_hand.append(_new_among(filter_of(text, bag), on_hand))
        except PlanError as error:
            wrong.append(f'--filter "{text}": {error}')
    if wrong:
        raise PlanError(*wrong)
    for taken in (one.strength.taken for one in on_hand if one.strength.taken):
        talk().print(taken)
    return answers, on_hand


def _ask(name: str, default: str, known: Mapping[str, object]) -> object:
    """Ask one question until the answer makes sense, and say back what it was read as; return keeps the default."""
    while True:
        text = click.prompt(_QUESTIONS[name], default=default, err=True)
        try:
            answer = read_answer(name, text, known)
        except PlanError as error:
            talk().print(str(error))
            continue
        if answer.said != text:
            talk().print(f"  {answer.said}")
        return answer.value


def _ask_filters(bag: Sequence[NewFilter]) -> list[NewFilter]:
    """Ask for filters until no more are told; each that is right is kept and said back."""
    if bag:
        talk().print(f"Measured filters, which go by their names: {', '.join(one.name for one in bag)}.")
    on_hand: list[NewFilter] = []
    while words := str(click.prompt(_MORE_FILTERS if on_hand else _FILTERS, "", show_default=False, err=True)).strip():
        for part in parts_of(words):
            try:
                found = _new_among(filter_of(part, bag), on_hand)
            except PlanError as error:
                talk().print(str(error))
                continue
            if _meant(found):
                on_hand.append(found)
    return on_hand


def _meant(found: NewFilter) -> bool:
    """Say a filter back; ask where it may mean something else, with a sentence that says how to write that."""
    if not found.strength.taken:
        talk().print(f"  {found.said}")
        return True
    talk().print(found.strength.taken)
    return click.confirm(f"  {found.said}: is that so?", default=True, err=True)


def _new_among(found: NewFilter, on_hand: Sequence[NewFilter]) -> NewFilter:
    if any(one.name == found.name for one in on_hand):
        raise PlanError(
            f"There is a filter called {found.name} already; give this one another name, such as "
            f'"Second = {found.name}".'
        )
    return found


def _bag(body: str) -> list[NewFilter]:
    """Return the filters that were measured, of the simulated body for that alone."""
    simulated = load_body_file(body).simulated
    found = {one.name: one for one in measured_filters() if one.simulated == simulated}
    return [
        NewFilter(name=one.name, strength=Strength(way="stops", number=one.stops), measured=True)
        for one in found.values()
    ]
