"""The plain card for somebody who has the pond for a while and need not know it: four things, and two rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from dawnline.people.person import Person

_STEPS: Final = ("card_air", "card_feed", "card_look")
_RULES: Final = ("card_nothing_in", "card_hands")


def card(words: Mapping[str, str], person: Person, people: Iterable[Person], at: int) -> list[str]:
    """The card for `person` at `at` [ms], with the numbers of the others, as lines; whose days are over rests."""
    others = [each for each in people if each.name != person.name and (each.ends is None or at < each.ends)]
    numbers = [f"{each.name}, {each.telephone}" for each in others if each.telephone]
    telephone = words["card_telephone"].format(numbers="; ".join(numbers) or words["card_nobody"])
    return [
        words["card_do"],
        *(f"  {number}. {step}" for number, step in enumerate((*(words[name] for name in _STEPS), telephone), 1)),
        words["card_never"],
        *(f"  - {words[name]}" for name in _RULES),
    ]
