"""The keeper's README leads where it says, and the figures it shows are those of the page of results."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
RESULTS = "tests/benchmarks/RESULTS.md"
PAPERS = ("README.md", "DEVELOPERS.md", RESULTS)
LINK = re.compile(r"\]\(([^)\s]+)\)|src=\"([^\"]+)\"")


def text(name: str | Path) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def anchors(paper: str) -> set[str]:
    """The names under which the headings of a page are found."""
    titles = re.findall(r"^#+ (.+)$", paper, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title).lower().replace(" ", "-") for title in titles}


@pytest.mark.parametrize("paper", PAPERS)
def test_every_link_leads_somewhere(paper: str) -> None:
    links = [a or b for a, b in LINK.findall(text(paper)) if "://" not in a]
    for link in links:
        name, _, anchor = link.partition("#")
        goal = (ROOT / paper).parent / name if name else ROOT / paper
        assert goal.exists(), link
        assert not anchor or anchor in anchors(goal.read_text(encoding="utf-8")), link


def test_the_readme_has_links() -> None:
    assert len(LINK.findall(text("README.md"))) > 10


def test_each_figure_of_the_readme_is_one_of_the_results() -> None:
    section = text("README.md").partition("\n## Measured\n")[2].partition("\n## ")[0]
    rows = [line for line in section.splitlines() if line.startswith("|")]
    assert len(rows) > 10
    assert [row for row in rows if row not in text(RESULTS).splitlines()] == []
