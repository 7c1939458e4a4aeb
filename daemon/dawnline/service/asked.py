"""What people ask for: acts are taken from the inbox once, and answered when their verdicts are on the disk."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from dawnline.duration import parse_instant
from dawnline.errors import StoreError
from dawnline.event import Act
from dawnline.probes.intake import Intake
from dawnline.service.keeping import Keeping
from dawnline.service.patient_inbox import PatientInbox
from dawnline.store.inbox import Pending
from dawnline.store.record import ActRow
from dawnline.store.store import Store


class Asked:
    """`also_told` hears each verdict, too: act, whether it was accepted, and the text."""

    def __init__(self, inbox: PatientInbox, store: Store, keeping: Keeping) -> None:
        self.verdicts: list[ActRow] = []  # that may not be told before they are on the disk
        self.also_told: Callable[[str, bool, str], None] = lambda act_id, accepted, text: None
        self._inbox, self._store, self._keeping = inbox, store, keeping
        self._taken: set[str] = set()

    def take(self, intake: Intake, provisional: int | None = None) -> None:
        """Hand the acts that wait in the inbox to the intake, each once.

        While pond time is `provisional` [ms], an entry about a later time waits on: nobody knows whether it has come.
        """
        for row in self._inbox.pending():
            if row.id not in self._taken and (provisional is None or _about(row) <= provisional):
                self._taken.add(row.id)
                intake.put_other(partial(_act, row))

    def answered_before(self, act: Act) -> bool:
        """An act that was committed just before a power cut has its verdict already.

        While that cannot be looked up it waits in the inbox.
        """
        if act.id not in self._taken:  # it came on another way, now
            return False
        try:
            verdict = self._store.act_verdict(act.id)
        except StoreError as error:
            self._keeping.failed(error)
            self._taken.discard(act.id)
            return True
        if verdict is None:
            return False
        self._inbox.answer(act.id, *verdict)
        self._taken.discard(act.id)
        return True

    def answer(self) -> None:
        """Tell the verdicts, which are on the disk now."""
        for row in self.verdicts:
            self._inbox.answer(row.act.id, row.accepted, row.text)
            self.also_told(row.act.id, row.accepted, row.text)
            self._taken.discard(row.act.id)
        self.verdicts.clear()


def _about(row: Pending) -> int:
    """The time that an act says it is about [ms]; 0 for none."""
    try:
        return parse_instant(row.body.get("when", 0))
    except ValueError:  # that it cannot be read is said in its verdict
        return 0


def _act(row: Pending, stamp: int) -> Act:
    return Act(row.id, stamp, row.kind, row.body, row.actor)
