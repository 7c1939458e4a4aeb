"""What people get over a night, word for word: one file a message in messages/, to be read as one would at two in the
morning. After a change of words on purpose write them anew, and read the difference:

    .venv/bin/python tests/people/test_messages.py
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "messages"
if __name__ == "__main__":
    sys.path.insert(0, str(FOLDER.parent))

from dawnline.duration import DAY_MS  # noqa: E402
from dawnline.event import Message  # noqa: E402
from dawnline.people.person import Person  # noqa: E402

if __name__ == "__main__":
    from conftest import House  # type: ignore[import-not-found]
else:
    from .conftest import House

MIDNIGHT = 1_781_042_400_000  # Wed 10 June 2026, 00:00 in Berlin
ADA = Person("Ada", ("console:",), morning=7 * 60 + 30, telephone="+49 7651 0")
BO = Person("Bo", ("mailto:bo@example.org",), order=2)
NELL = Person("Nell", ("mailto:nell@example.org",), order=2, card=True, begins=MIDNIGHT + DAY_MS)
FACTS = {
    "probe-suspect": "noisy: it trembles from one reading to the next, for 12 min",
    "probe-suspect over": "good readings again",
    "night-slide": "pH has fallen 0.31 since 21:10; 0.12 is usual at this hour; tonight's low is expected at pH 6.41 "
    "(6.28 to 6.57) near 05:20; below 6.5 from about 03:50; the last nights went down to 6.95, 6.93, 6.97",
    "night-slide over": "the fall has ended; the lowest was pH 6.44",
    "ph-low": "pH 6.47, below 6.5; this pond's ordinary dawn low is 6.94",
    "ph-low over": "pH 6.63; this pond's ordinary dawn low is 6.94",
    "wide-swing": "pH moved by 1.12 in 24 hours; 1 is wide",
    "no-data": "nothing received for 5 min",
    "no-data over": "readings come again",
}
NIGHT = "Last night, ph: lowest pH 6.44 at 02:10; of late 6.94 was usual."


def told() -> dict[str, Message]:
    """The messages of two nights, by the name of their file."""
    home = House([ADA, BO, NELL], MIDNIGHT + DAY_MS // 2, facts=FACTS, night=NIGHT)
    found: dict[str, Message] = {}

    def keep(name: str, messages: list[Message], person: str, why: str) -> None:
        found[name] = next(each for each in messages if (each.person, each.why) == (person, why))

    home.on[("probe-suspect", "ph")] = "medium"
    home.run("23:00")
    home.on.clear()
    home.run("01:00", day=1)
    home.on |= {("night-slide", "ph"): "high", ("wide-swing", "ph"): "low"}
    night = home.run("01:35", day=1)
    keep("01-raised-ada", night, "Ada", "raised")
    keep("02-reminder-ada", night, "Ada", "repeat")
    keep("03-nobody-answered-bo", night, "Bo", "unanswered")
    keep("04-nobody-answered-nell", night, "Nell", "unanswered")
    home.on[("ph-low", "ph")] = "high"
    keep("05-more-urgent-ada", home.run("01:50", day=1), "Ada", "raised")
    home.act("acknowledge", 2, "Bo"), home.act("acknowledge", 4, "Bo")
    home.on = {("wide-swing", "ph"): "low"}
    morning = home.run("08:00", day=1)
    keep("06-morning-ada", morning, "Ada", "morning")
    keep("07-over-in-the-night-bo", morning, "Bo", "over")
    keep("08-handover-nell", morning, "Nell", "handover")
    keep("12-over-in-the-night-nell", morning, "Nell", "over")
    home.on |= {("no-data", name): "medium" for name in ("ph", "water")}
    keep("09-faults-together-ada", home.run("08:30", day=1), "Ada", "raised")
    home.on.clear()
    keep("10-over-ada", home.run("09:00", day=1), "Ada", "over")
    keep("11-quiet-night-ada", home.run("08:00", day=4)[-1:], "Ada", "morning")
    return found


def written(message: Message) -> str:
    """A message as its file has it."""
    return f"To: {message.person} ({message.why}, {message.priority})\nSubject: {message.subject}\n\n{message.text}\n"


@pytest.fixture(scope="module")
def messages() -> dict[str, Message]:
    return told()


def test_each_message_is_as_it_was_read(messages: dict[str, Message]) -> None:
    assert sorted(path.stem for path in FOLDER.glob("*.txt")) == sorted(messages)
    for name, message in messages.items():
        assert written(message) == (FOLDER / f"{name}.txt").read_text(encoding="utf-8"), name


def test_a_subject_fits_a_lock_screen(messages: dict[str, Message]) -> None:
    assert all(len(message.subject) <= 100 for message in messages.values())


def test_the_card_names_no_command_and_no_chemistry(messages: dict[str, Message]) -> None:
    for message in messages.values():
        if message.person == "Nell":
            assert not any(word in message.text for word in ("dawnline", "KH", "dose", "buffer"))


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob("*.txt"):
        old.unlink()
    for stem, each in told().items():
        (FOLDER / f"{stem}.txt").write_text(written(each), encoding="utf-8")
