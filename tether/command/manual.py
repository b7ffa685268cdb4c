"""The manual page, made of the commands and their options as they are: so it never says anything else than they do.

Its language is that of man(7).
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator

import click

_CODES = (
    ("0", "Done as planned."),
    ("1", "Ended, but something is missing or was stopped."),
    ("2", "The plan or the command is to be corrected."),
    ("3", "Something at the camera is to be corrected, fitted or waited for."),
    ("4", "Given up."),
)
_FILES = (
    ("~/.config/tether/", "Your own body files, plans and measured filters ($XDG_CONFIG_HOME)."),
    ("~/.local/state/tether/", "Planned starts, and the last words of what waits for them ($XDG_STATE_HOME)."),
    ("OUTING/journal.sqlite", "The record of an outing, from which its log is told."),
)
#: In help a paragraph after this keeps its lines.
_AS_IT_IS = "\b"


def manual(program: click.Group, version: str) -> str:
    """Return the manual page of a program and all its commands.

    Parameters
    ----------
    program
        The group of all commands.
    version
        Which version it is of.
    """
    name = program.name or ""
    context = click.Context(program, info_name=name)
    first = " ".join(inspect.cleandoc(program.help or "").split("\n\n")[0].split())
    return "\n".join(
        (
            f'.TH {name.upper()} 1 "" "{name} {_text(version)}" "User Commands"',
            ".SH NAME",
            rf"{name} \- {_text(first.rstrip('.'))}",
            ".SH SYNOPSIS",
            *_usage(program, context),
            ".SH DESCRIPTION",
            *_paragraphs(program),
            "Standard output is data, standard error is talk.",
            ".SH COMMANDS",
            *_commands(program, context),
            ".SH EXIT STATUS",
            *_list(_CODES),
            ".SH FILES",
            *_list(_FILES),
            "",
        )
    )


def _commands(group: click.Group, context: click.Context) -> Iterator[str]:
    for name in group.list_commands(context):
        command = group.commands[name]
        inner = click.Context(command, info_name=name, parent=context)
        if isinstance(command, click.Group):
            yield from _commands(command, inner)
        elif not command.hidden:
            yield f'.SS "{_text(inner.command_path)}"'
            yield from _usage(command, inner)
            yield ".PP"
            yield from _paragraphs(command)
            yield from _list(record for one in command.params if (record := one.get_help_record(inner)))


def _usage(command: click.Command, context: click.Context) -> Iterator[str]:
    pieces = " ".join(command.collect_usage_pieces(context))
    yield rf"\fB{_text(context.command_path)}\fR {_text(pieces)}"


def _paragraphs(command: click.Command) -> Iterator[str]:
    """Yield what a command's help says, by paragraphs; its codes are told in a section of their own."""
    for paragraph in inspect.cleandoc(command.help or "").split("\n\n"):
        if not paragraph.startswith(_AS_IT_IS):
            yield _line(" ".join(paragraph.split()))
            yield ".PP"


def _list(items: Iterator[tuple[str, str]] | tuple[tuple[str, str], ...]) -> Iterator[str]:
    for what, text in items:
        yield ".TP"
        yield rf"\fB{_text(what)}\fR"
        yield _line(" ".join(text.split()))


def _line(text: str) -> str:
    """Return a line of text; one that would be taken for a request is kept from that."""
    shown = _text(text)
    return rf"\&{shown}" if shown.startswith((".", "'")) else shown


def _text(text: str) -> str:
    r"""Return text as man(7) reads it: a backslash is ``\e``, and a hyphen stays one that can be copied."""
    return re.sub("-", r"\-", text.replace("\\", r"\e"))
