"""The watch over one pond, put together from its configuration: everything but the process around it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import ExitStack
from functools import partial

import structlog

from dawnline.broker import client_id
from dawnline.delivery import homie
from dawnline.delivery.ack_link import Links
from dawnline.delivery.channels import Channels
from dawnline.delivery.heartbeat import Heartbeat
from dawnline.delivery.mqtt_state import MqttState
from dawnline.delivery.worker import Outcome, Worker
from dawnline.letter import Letter, Marks
from dawnline.probes.intake import Intake, Receipt, overheard
from dawnline.probes.links.wiring import build_links
from dawnline.quantity import QUANTITIES
from dawnline.service.boot_clock import BootClock
from dawnline.service.brokers import Brokers
from dawnline.service.clock import from_environment
from dawnline.service.copying import copied_up_to, make_forwarder
from dawnline.service.core import Core
from dawnline.service.ending import END_S
from dawnline.service.look_over import LookOver
from dawnline.service.machine import Machine
from dawnline.service.now_file import NowFile
from dawnline.service.open_store import open_store
from dawnline.service.patient_inbox import PatientInbox
from dawnline.service.pending import Pending
from dawnline.service.post import Post, ended
from dawnline.service.present import presenter
from dawnline.service.pulse import Pulse
from dawnline.service.replies import Replies
from dawnline.service.resume import dated_pipeline, resume
from dawnline.service.retention import Retention
from dawnline.service.start_clock import begin_stretch, start_clock
from dawnline.service.week_drawn import WeekDrawn
from dawnline.settings import Settings
from dawnline.store.inbox import inbox_path
from dawnline.store.outbox import GIVEN_UP_SHOWN_MS, SHOWN
from dawnline.store.store import Store

_log = structlog.get_logger(__name__)


def open_pond(settings: Settings, stack: ExitStack, brokers: Brokers, alive: Callable[[], None]) -> Core:
    """All of it, opened and not yet turning; `stack` closes it. `alive` is called while the watch is well.

    Raises StoreError and SettingsError.
    """
    path = settings.store.path
    wall = from_environment()
    store = stack.enter_context(open_store(settings, wall.now()))
    inbox = stack.enter_context(PatientInbox(inbox_path(path)))
    clock = start_clock(store, wall, Machine(settings.clock.mark), settings.clock.trust)
    pipeline = resume(settings, store)
    refused = None
    if clock.stretch is not None and store.stretch() is None:
        refused = begin_stretch(pipeline, store, clock.stretch)
    intake = Intake(clock.now, last_stamp=max(store.cursor() or 0, pipeline.now))
    now_file = NowFile(path)
    stack.callback(now_file.remove)
    drawn = WeekDrawn(settings.path, now_file.path.with_suffix(".week.html"), settings.catalogue.words)
    worker = _worker(settings, intake, drawn)
    known = _known(store, settings)
    links = build_links(
        settings.probes, settings.mqtt, intake, known,
        client_id=_client_id(settings), connection=brokers.connection(settings), pond=settings.pond.name,
    )  # fmt: skip
    post = Post(worker, store.waiting(), store.given_up((store.cursor() or 0) - GIVEN_UP_SHOWN_MS, SHOWN))
    state, replies = _mqtt_state(settings, intake, brokers)
    heartbeat = _heartbeat(settings, clock)
    forwarder = make_forwarder(settings)
    core = Core(
        pipeline, store, inbox, intake, links, post, clock,
        presenter(settings, now_file, state, Pulse(alive, heartbeat), forwarder),
    )  # fmt: skip
    core.pending = Pending(clock.stretch)
    core.keeping.retention = Retention(settings.store.keep_raw, partial(copied_up_to, settings))
    if refused is not None:
        core.keeping.begin_with(*refused)
    core.dated = partial(dated_pipeline, settings, store, clock.stretch and clock.stretch.since - 1)
    core.alive = alive
    core.remembered.add(known)
    if replies is not None:
        core.asked.also_told = replies.answered
    core.keeping.look_over = LookOver(path)
    core.endings = [
        core.keeping.look_over.stop,
        *(link.stop for link in links),
        drawn.stop,
        partial(worker.stop, END_S),
        *(each.stop for each in (state, forwarder, heartbeat) if each),
    ]
    core.beginnings = [each.start for each in (state, forwarder, heartbeat, core.keeping.look_over) if each is not None]
    return core


def turn(core: Core, settings: Settings, stopping: Callable[[], bool], ready: Callable[[], None]) -> None:
    """Start links and whatever has a thread, turn until `stopping`, and take it down in order."""
    try:
        for begin in (*core.beginnings, *[link.start for link in core.links]):
            begin()
        ready()
        _log.info("watching", pond=settings.pond.name, store=str(settings.store.path),
                  links=[link.name for link in core.links], clock_rate=core.clock.rate)  # fmt: skip
        core.run(stopping)
    finally:
        core.end()
    _log.info("stopped", commits=core.commits)


def _worker(settings: Settings, intake: Intake, drawn: WeekDrawn) -> Worker:
    words = settings.catalogue.words
    marks = Marks(words["sent_again"], words["sent_again_text"])
    channels = Channels(settings.mail, settings.folder, sys.stdout, _links(settings), drawn, marks)

    def report(letter: Letter, outcome: Outcome, text: str) -> None:
        intake.put_other(lambda stamp: ended(letter, outcome, text, stamp))

    return Worker(channels.send, report)


def _links(settings: Settings) -> Links | None:
    page = settings.page
    if page.address is None or page.link_key is None:
        return None
    return Links(page.address, page.link_key, settings.pond.name, settings.catalogue.words["link"])


def _client_id(settings: Settings) -> str:
    return client_id(settings.mqtt, settings.pond.name, "probes") if settings.mqtt is not None else "dawnline-probes"


def _known(store: Store, settings: Settings) -> list[Receipt]:
    """The messages of the last run that the broker may send again."""
    if settings.mqtt is None:
        return []
    name = settings.mqtt.link
    return [Receipt(each, mid, digest) for each in (name, overheard(name)) for mid, digest in store.receipts(each)]


def _mqtt_state(settings: Settings, intake: Intake, brokers: Brokers) -> tuple[MqttState | None, Replies | None]:
    """The pond on MQTT, and the way back for acknowledgements."""
    if settings.mqtt is None:
        return None, None

    def tell(episode: int, accepted: bool, text: str) -> None:
        if accepted:
            state.tell(homie.ACKNOWLEDGE, str(episode))
        state.tell(homie.ANSWER, f"{'' if accepted else 'refused: '}alarm {episode}: {text}")

    replies, probes = Replies(intake, tell), {p.name: QUANTITIES[p.quantity] for p in settings.probes}
    state = MqttState(settings.mqtt, settings.pond.name, probes, replies.ask, brokers.line(settings))
    return state, replies


def _heartbeat(settings: Settings, clock: BootClock) -> Heartbeat | None:
    if settings.heartbeat is None:
        return None
    return Heartbeat(settings.heartbeat, settings.folder, clock.machine_seconds(settings.heartbeat.every))
