"""The plain card for somebody who has the pond for a while and need not know it: four things, and two never."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from dawnline.people.person import Person

STEPS: Final = (
    "Air: switch on every air pump there is and leave them on. Air harms nothing.",
    "Stop feeding until you hear that it is over.",
    "Look, with a torch at night: do fish hang at the surface, gasp or lie on their side? Does water run where it "
    "always runs, and is the pond as full as ever?",
)
NEVER: Final = (
    "Pour nothing in: no powder, no acid, no tap water.",
    "No wet hands on plugs. If a safety switch has tripped, leave it, and telephone.",
)


def card(person: Person, people: Iterable[Person]) -> list[str]:
    """The card for `person`, with the numbers of the others, as lines."""
    numbers = [f"{each.name}, {each.telephone}" for each in people if each.telephone and each.name != person.name]
    telephone = f"Telephone, at any hour, and say what you saw: {'; '.join(numbers) or 'whoever gave you the pond'}."
    return [
        "What to do:",
        *(f"  {number}. {step}" for number, step in enumerate((*STEPS, telephone), 1)),
        "Never:",
        *(f"  - {never}" for never in NEVER),
    ]
