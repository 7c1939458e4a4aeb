"""Colours and type of every picture and report: one style, light and dark, that the colour-blind can read.

The hues are those of Okabe and Ito (2008), Color Universal Design, darkened or lightened where small type needs more
contrast; nothing is told by colour alone.
"""

from __future__ import annotations

from typing import Final

_LIGHT: Final = {
    "paper": "#fbfcfa", "ink": "#18242b", "soft": "#56656e", "rule": "#d5dcda", "dark": "#dde4ee", "band": "#e4f1ea",
    "ph": "#0072b2", "spread": "#56b4e9", "corrected": "#18242b", "warm": "#a84a00", "limit": "#b84900",
    "flag": "#a8488a", "act": "#00795a", "told": "#8a5a00", "high": "#b84900", "medium": "#c08400", "low": "#7d8a91",
}  # fmt: skip
_DARK: Final = {
    "paper": "#11191d", "ink": "#e9efec", "soft": "#a3b1b7", "rule": "#2d3a40", "dark": "#1d2833", "band": "#152a24",
    "ph": "#56b4e9", "spread": "#2c6f9c", "corrected": "#e9efec", "warm": "#ee9b5f", "limit": "#f08a4b",
    "flag": "#df9ac2", "act": "#35c69b", "told": "#f0c04a", "high": "#f08a4b", "medium": "#f0c04a", "low": "#8e9ca3",
}  # fmt: skip


def _variables(colours: dict[str, str]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in colours.items())


FIGURE_STYLE: Final = f"""
:root{{color-scheme:light dark;{_variables(_LIGHT)}}}
@media (prefers-color-scheme:dark){{:root{{{_variables(_DARK)}}}}}
.fig{{font-family:system-ui,sans-serif;font-size:12.5px;fill:var(--ink)}}
.fig .paper{{fill:var(--paper)}} .fig .dark{{fill:var(--dark)}} .fig .band{{fill:var(--band)}}
.fig .head{{font-size:14.5px;font-weight:600}} .fig .soft{{fill:var(--soft)}} .fig .end{{text-anchor:end}}
.fig .mid{{text-anchor:middle}} .fig .rule{{stroke:var(--rule);stroke-width:.8;fill:none}}
.fig .edge{{stroke:var(--soft);stroke-width:1;fill:none}}
.fig .limit{{stroke:var(--limit);stroke-width:1.2;stroke-dasharray:6 4;fill:none}}
.fig .limit-name{{fill:var(--limit);paint-order:stroke;stroke:var(--paper);stroke-width:3px;stroke-opacity:.7}}
.fig .ph{{stroke:var(--ph);stroke-width:1.8;fill:none;stroke-linejoin:round;stroke-linecap:round}}
.fig .spread{{fill:var(--spread);fill-opacity:.45;stroke:var(--spread);stroke-width:.8;stroke-opacity:.45}}
.fig .warm{{stroke:var(--warm);stroke-width:1.8;fill:none;stroke-linejoin:round;stroke-linecap:round}}
.fig .warm-spread{{fill:var(--warm);fill-opacity:.25;stroke:var(--warm);stroke-width:.8;stroke-opacity:.25}}
.fig .corrected{{stroke:var(--corrected);stroke-width:1.2;stroke-dasharray:2 3;fill:none}}
.fig .flag{{fill:var(--flag)}} .fig .act{{fill:var(--act)}} .fig .act-name{{fill:var(--act);font-size:11.5px}}
.fig .told{{stroke:var(--told);stroke-width:1.6;fill:none}} .fig .told-low{{fill:var(--paper);stroke:var(--told);stroke-width:1.6}}
.fig .told-fan{{fill:var(--told);fill-opacity:.22;stroke:none}} .fig .told-name{{fill:var(--told)}}
.fig .high{{fill:var(--high)}} .fig .medium{{fill:var(--medium)}}
.fig .low{{fill:var(--paper);stroke:var(--low);stroke-width:1}}
.fig .mark{{stroke:var(--flag);stroke-dasharray:2 3;fill:none}} .fig .mark-name{{fill:var(--flag)}}
.fig .fell{{stroke:var(--spread);fill:none}} .fig .bar{{stroke:var(--ph);stroke-linecap:round;fill:none}} .fig .dot{{fill:var(--ph)}}
.fig .odd{{stroke:var(--flag);stroke-width:2;fill:none}}
.fig .fit{{stroke:var(--soft);stroke-width:1.4;fill:none}} .fig .ahead{{stroke:var(--told);stroke-width:1.4;stroke-dasharray:5 4;fill:none}}
""".strip()  # noqa: E501 - a style sheet
