"""A pH probe by the name that somebody typed."""

from __future__ import annotations

from dawnline.electrode.calibration import IDEAL
from dawnline.errors import SettingsError
from dawnline.probes.settings import ProbeSettings
from dawnline.settings import Settings


def ph_probe(settings: Settings, name: str) -> ProbeSettings:
    """The pH probe of this name. Raises SettingsError where there is none."""
    known = {each.name: each for each in settings.probes if each.quantity in IDEAL}
    if name not in known:
        raise SettingsError(f"found {name!r}, expected the name of a pH probe: {', '.join(known) or 'there is none'}")
    return known[name]
