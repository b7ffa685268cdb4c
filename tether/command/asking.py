"""What a new plan is made from: options, and what is asked for at a terminal, each answer checked as it is given."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

import click
from click.core import ParameterSource

from tether.body.bodyfile import load_body_file
from tether.command.common import talk
from tether.command.places import FORM, read_place
from tether.errors import PlanError
from tether.exposure.strengths import Strength
from tether.outing.prepare import measured_filters
from tether.plan.answers import Answer, filter_of, parts_of, read_answer
from tether.plan.base import base_unkept
from tether.plan.file import plan_from_text
from tether.plan.new import Answers, NewFilter, new_plan

#: What is asked for, in this order.
_QUESTIONS = {
    "title": "What is the outing called",
    "spot": "Where it is, as latitude,longitude in degrees (none: press return)",
    "body": "Body file",
    "focal_mm": "Focal length of the lens",
    "widest": "Its widest aperture",
    "narrowest": "Its narrowest aperture",
    "base_time": "Time of the base exposure",
    "base_aperture": "Its aperture",
    "base_iso": "Its ISO",
    "shortest": "Shortest rung",
    "longest": "Longest rung",
}
_FILTERS = 'Filters on hand, such as "ND64, Calder 10 = 10 stops, polariser" (none: press return)'
_MORE_FILTERS = "More filters (none: press return)"
_HOW = (
    "Press return for what stands in [ ]; “back” goes back one answer. Nothing is written before you have seen it all."
)
_ALWAYS_ON = "A polariser stays on for the whole ladder: on for some rungs only, it would change their light."


class _Back(Exception):  # noqa: N818 - not an error: the person's wish
    """The person wants to answer the question before this one again."""


def answered(
    context: click.Context, options: Mapping[str, object], filters: Sequence[str], *, asking: bool
) -> tuple[dict[str, object], list[NewFilter]]:
    """Return all answers and filters: options are checked at once; what was not given is asked for where `asking`.

    Where something was asked for, all is shown before it is returned. Raises PlanError with a sentence for each option
    that makes no sense, or where the person does not want it so.
    """

    def given(name: str) -> bool:
        return context.get_parameter_source(name) is not ParameterSource.DEFAULT

    to_ask = [name for name in _QUESTIONS if asking and not given(name)]
    texts = {name: str(options.get(name) or "") for name in _QUESTIONS}
    called = {str(one.name): one.opts[0] for one in context.command.params}
    said = {name: text for name, text in texts.items() if name not in to_ask}
    answers, on_hand = _from_options(called, said, filters)
    steps: list[Callable[[], None]] = [partial(_ask, name, to_ask, texts, answers) for name in to_ask]
    if asking and not given("filters"):
        steps.append(partial(_ask_filters, on_hand, answers))
    if steps:
        talk().print(_HOW)
        _in_turn([*steps, partial(_show, answers, on_hand)])
    return {name: answer.value for name, answer in answers.items()}, on_hand


def _in_turn(steps: Sequence[Callable[[], None]]) -> None:
    """Ask one after the other; “back” asks the one before again."""
    at = 0
    while at < len(steps):
        try:
            steps[at]()
        except _Back:
            at = max(at - 1, 0)
        else:
            at += 1


def _from_options(
    called: Mapping[str, str], texts: Mapping[str, str], filters: Sequence[str]
) -> tuple[dict[str, Answer], list[NewFilter]]:
    """Read what was given as options, which are `called` so. Raises PlanError for each that makes no sense."""
    answers, on_hand, wrong = dict[str, Answer](), list[NewFilter](), list[str]()
    for name, text in texts.items():
        try:
            answers[name] = _read(name, text, answers)
        except PlanError as error:
            wrong.append(f"{called[name]} {text}: {error}")
    bag = _bag(answers) if filters else []
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


def _read(name: str, text: str, known: Mapping[str, Answer]) -> Answer:
    """Read an answer. Raises PlanError where it makes no sense, or does not go with another."""
    if name == "spot":
        return _place(text)
    if name == "body":
        load_body_file(text)
        return Answer(value=text, said=text)
    return read_answer(name, text, {each: answer.value for each, answer in known.items()})


def _place(text: str) -> Answer:
    if text.strip().casefold() in ("", "none"):
        return Answer(value=None, said="none")
    spot = read_place(text)
    if spot is None:
        raise PlanError(f"“{text}” is not a place; write {FORM}.")
    return Answer(value=spot, said=f"{spot.latitude:g}, {spot.longitude:g}")


def _prompt(question: str, default: str) -> str:
    """Return what the person writes, or the default. Raises _Back."""
    text = str(click.prompt(question, default, show_default=bool(default), err=True)).strip()
    if text.casefold() == "back":
        raise _Back
    return text


def _ask(name: str, asked: Sequence[str], texts: dict[str, str], answers: dict[str, Answer]) -> None:
    """Ask one question until the answer makes sense, and say back what it was read as; return keeps the default.

    Those `asked` after it are to be answered again, each with what was written as its default.
    """
    for again in asked[asked.index(name) :]:
        answers.pop(again, None)
    while name not in answers:
        text = _prompt(_QUESTIONS[name], texts[name])
        try:
            answers[name] = _read(name, text, answers)
        except PlanError as error:
            talk().print(str(error))
            continue
        texts[name] = text
        if answers[name].said != (text or "none"):
            talk().print(f"  {answers[name].said}")


def _ask_filters(on_hand: list[NewFilter], answers: Mapping[str, Answer]) -> None:
    """Ask for filters until no more are told; each that is right is kept and said back. “back” leaves out the last."""
    bag = _bag(answers)
    if bag:
        talk().print(f"Measured filters, which go by their names: {', '.join(one.name for one in bag)}.")
    while True:
        try:
            words = _prompt(_MORE_FILTERS if on_hand else _FILTERS, "")
        except _Back:
            if not on_hand:
                raise
            talk().print(f"  {on_hand.pop().name} is left out again.")
            continue
        if not words:
            return
        for part in parts_of(words):
            try:
                found = _new_among(filter_of(part, bag), on_hand)
            except PlanError as error:
                talk().print(str(error))
                continue
            if _meant(found):
                on_hand.append(found)


def _meant(found: NewFilter) -> bool:
    """Say a filter back; ask where it may mean something else, with a sentence that says how to write that."""
    if not found.strength.taken:
        talk().print(f"  {found.said}")
        return True
    talk().print(found.strength.taken)
    if click.confirm(f"  {found.said}: is that so?", default=True, err=True):
        return True
    always = f" {_ALWAYS_ON}" if found.strength.kind == "always on" else ""
    talk().print(f"  {found.name} is left out of the plan; name it again as you mean it, or leave it at that.{always}")
    return False


def _show(answers: Mapping[str, Answer], on_hand: Sequence[NewFilter]) -> None:
    """Show all that the plan is made from, and have it confirmed. Raises PlanError where it is not."""
    page = talk()
    page.print("The plan:")
    for name in _QUESTIONS:
        page.print(f"  {_QUESTIONS[name].split(' (')[0]}: {answers[name].said}")
    for one in on_hand:
        page.print(f"  Filter {one.said}")
    if not on_hand:
        page.print("  No filters")
    if lacks := _lacks(answers, on_hand):
        page.print(f"The base: {lacks}.")
    while (said := _prompt("Write it: yes, no or back", "yes").casefold()) not in ("y", "yes"):
        if said in ("n", "no"):
            raise PlanError("Nothing is written.")


def _lacks(answers: Mapping[str, Answer], on_hand: Sequence[NewFilter]) -> str | None:
    """Say what of the base the body has not; None where it has all. Raises PlanError where all this makes no plan."""
    given = Answers(filters=on_hand, **{name: answer.value for name, answer in answers.items()})  # type: ignore[arg-type]
    plan = plan_from_text(new_plan(given))
    abilities = load_body_file(plan.body.file).abilities(plan.lens.widest.exact, plan.lens.narrowest.exact)
    return base_unkept(plan, abilities)


def _new_among(found: NewFilter, on_hand: Sequence[NewFilter]) -> NewFilter:
    if any(one.name == found.name for one in on_hand):
        raise PlanError(
            f"There is a filter called {found.name} already; give this one another name, such as "
            f'"Second = {found.name}".'
        )
    return found


def _bag(answers: Mapping[str, Answer]) -> list[NewFilter]:
    """Return the filters that were measured, of the simulated body for that alone; none where the body is not known."""
    if "body" not in answers:
        return []
    simulated = load_body_file(str(answers["body"].value)).simulated
    found = {one.name: one for one in measured_filters() if one.simulated == simulated}
    return [
        NewFilter(name=one.name, strength=Strength(way="stops", number=one.stops), measured=True)
        for one in found.values()
    ]
