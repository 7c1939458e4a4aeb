from __future__ import annotations

from dawnline.probes.intake import Receipt
from dawnline.service.remembered import KEPT_S, LEAST, MOST, Remembered


class Watch:
    """A stop watch turned by hand."""

    now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


def receipts(first: int, last: int, link: str = "mqtt") -> list[Receipt]:
    return [Receipt(link, mid, b"12345678") for mid in range(first, last)]


def mids(kept: Remembered, link: str = "mqtt") -> list[int]:
    return [mid for mid, _ in kept.of(link)]


def test_a_burst_far_over_the_window_is_remembered_whole() -> None:
    kept = Remembered(Watch())
    kept.add(receipts(0, 300))
    assert mids(kept) == list(range(300))


def test_after_a_while_only_the_newest_are() -> None:
    watch = Watch()
    kept = Remembered(watch)
    kept.add(receipts(0, 300))
    watch.now_s += KEPT_S + 1
    kept.add(receipts(300, 310))
    assert mids(kept) == list(range(310 - LEAST, 310))
    watch.now_s += 1e6
    assert len(mids(kept)) == LEAST


def test_links_are_told_apart_and_none_grows_without_end() -> None:
    kept = Remembered(Watch())
    kept.add(receipts(0, MOST + 5) + receipts(7, 9, "other"))
    assert mids(kept) == list(range(5, MOST + 5))
    assert mids(kept, "other") == [7, 8]
    assert mids(kept, "unknown") == []


class Ear:
    """A link that has overheard something."""

    name = "mqtt"
    through = False

    def all_heard(self) -> bool:
        return self.through


def test_what_was_overheard_is_kept_until_all_of_it_has_come_and_a_while_more() -> None:
    watch, ear = Watch(), Ear()
    kept, links = Remembered(watch), [ear]
    heard = [Receipt("mqtt overheard", 0, bytes([number % 256] * 8)) for number in range(300)]
    assert len(kept.beside(heard, links)["mqtt overheard"]) == 300  # type: ignore[arg-type]
    kept.add(heard)
    watch.now_s += 1e6
    assert kept.beside([], links) == {}  # type: ignore[arg-type]
    assert len(kept.beside(heard[:1], links)["mqtt overheard"]) == 301  # type: ignore[arg-type]
    ear.through = True
    assert kept.beside([], links) == {}  # type: ignore[arg-type]
    watch.now_s += KEPT_S
    assert kept.beside([], links) == {"mqtt overheard": ()}  # type: ignore[arg-type]
    assert kept.beside([], links) == {}  # type: ignore[arg-type]
