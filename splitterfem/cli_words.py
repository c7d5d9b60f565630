"""What the command line says when it cannot be meant: one sentence, with the nearest words that would do."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterable, Sequence
from typing import Any, NoReturn

from splitterfem.errors import nearest

USAGE = 2
"""Exit code of a wrong command line."""


class Parser(argparse.ArgumentParser):
    """A parser that says in one sentence what is wrong, and where help is.

    The words of :mod:`argparse` differ from one version of Python to the next and offer no near misses.
    """

    def error(self, message: str) -> NoReturn:
        """Leave with exit code 2 after one sentence on stderr; :mod:`argparse` catches no other way out."""
        self.exit(USAGE, f"splitterfem: {_sentence(message)} (see {self.prog} --help)\n")

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Read the command line; words that are left over are named with the nearest options."""
        found, rest = self.parse_known_args(args, namespace)
        if rest:
            chosen = getattr(found, "parser", self)
            chosen.error(_left_over(rest[0], chosen.options()))
        return found

    def options(self) -> list[str]:
        """Return its long options."""
        return [text for action in self._actions for text in action.option_strings if text.startswith("--")]

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is not None and value not in action.choices:
            raise argparse.ArgumentError(None, _no_choice(action, str(value), action.choices))


def _no_choice(action: argparse.Action, value: str, choices: Iterable[Any]) -> str:
    known = [str(choice) for choice in choices]
    if not action.option_strings:
        return f"there is no command '{value:.40}'; {nearest(value, known)}"
    return f"{action.option_strings[-1]} is '{value:.40}'; {nearest(value, known)}"


def _left_over(word: str, options: Sequence[str]) -> str:
    name = word.partition("=")[0]
    if name.startswith("-"):
        return f"there is no option '{name:.40}'; {nearest(name, options)}"
    return f"'{word:.40}' is one word too many; quote names with spaces"


def _sentence(message: str) -> str:
    """Put what :mod:`argparse` says itself into plain words."""
    needed = re.fullmatch(r"the following arguments are required: (.*)", message)
    if needed:
        return f"{needed[1]} is missing; give it"
    found = re.fullmatch(r"argument ([^:]+): (.*)", message, re.DOTALL)
    if found is None:
        return message
    name = found[1].split("/")[-1]
    if found[2].startswith("expected"):
        return f"{name} has not the values that it needs; write them behind it"
    number = re.fullmatch(r"invalid (int|float) value: '(.*)'", found[2], re.DOTALL)
    if number:
        kind = "a whole number" if number[1] == "int" else "a number"
        return f"{name} is '{number[2]:.40}'; give {kind}"
    return f"{name}: {found[2]}"
