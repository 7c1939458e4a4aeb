"""What there is to see, by path: one small file a page."""

from __future__ import annotations

from typing import Final

from dawnline.page.view import View
from dawnline.page.views import alarms, buffers, close_up, days, doses, logbook, now, probes

ROUTES: Final[tuple[tuple[str, View], ...]] = (
    ("/", View(now.whole)),
    ("/now-part", View(now.part)),
    ("/days", View(days.days)),
    ("/close-up", View(close_up.close_up)),
    ("/alarms", View(alarms.whole)),
    ("/alarms-part", View(alarms.part)),
    ("/alarms/{id:int}/acknowledge", View(alarms.acknowledge, posts=True)),
    ("/alarms/{id:int}/shelve", View(alarms.shelve, posts=True)),
    ("/alarms/{id:int}/unshelve", View(alarms.unshelve, posts=True)),
    ("/logbook", View(logbook.entries)),
    ("/logbook/add/{kind}", View(logbook.form)),
    ("/logbook/add/{kind}", View(logbook.add, posts=True)),
    ("/probes", View(probes.probes)),
    ("/probes/{name}/buffers", View(buffers.whole)),
    ("/probes/{name}/buffers-part", View(buffers.part)),
    ("/probes/{name}/buffers/{step}", View(buffers.go, posts=True)),
    ("/doses", View(doses.doses)),
    ("/doses/{what}", View(doses.plan)),
)
