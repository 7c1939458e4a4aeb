"""Every alarm: its priority, its timing and the text of response. Data, not code; to add an alarm, add it here.

Delays and deadbands are starting points of our own (the standards give none for pH). The texts are for a tired
person in the dark: what is happening, how sure it is, what to do first, what to leave alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Priority


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm. Delays in ms, `deadband` in the unit of what it judges.

    `meaning` says what is happening, `sure` how far to believe it, `steps` what to do in this order, `cautions`
    what not to do.
    """

    name: str
    priority: Priority
    title: str
    meaning: str
    sure: str
    steps: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    on_delay: int = 0
    off_delay: int = 0
    deadband: float = 0.0


_LOOK = (
    "Take a torch and look at the fish: are they gasping at the surface? Whether or not, air first: every pump "
    "and stone you have; it harms nothing."
)
_CUP = (
    "Take a cup of pond water, bubble air through it for half an hour and read its pH again: if it rises, CO2 was "
    "the cause and aeration helps; if it stays, the buffer is gone and air alone will not mend it."
)
_TEST = "Test KH and ammonia by hand before you dose anything."
_STOP_FEEDING = "Stop feeding until the pH has been steady for a day."
_CHANGE = (
    "A part water change helps only where the new water has the KH for it: 10 to 20 %, dechlorinated, of like "
    "temperature, slowly."
)
_NO_CHASE = "Do not chase the pH: a fast rise is worse than a low pH, the more so while there is ammonia."
_NO_MIX = "Never mix chemicals. No strong acid, no lye. Follow the label of the product; ask a vet if fish are ill."
_HANDS = "No wet hands on plugs; mains near water belongs behind a residual-current device."
_FALLING_SURE = "Judged on good readings that agree with their neighbours. If you doubt it, read the pH by hand."

CATALOGUE: Final[dict[str, Alarm]] = {
    alarm.name: alarm
    for alarm in (
        Alarm(
            "ph-low",
            "high",
            "pH is low",
            "The pH has fallen below its lower limit. At night CO2 builds up and pH falls until dawn; a fall this far "
            "means more CO2 than usual or too little buffer (KH). Below 6.5 the filter's bacteria slow down, and "
            "ammonia and nitrite can build up; ammonia turns poisonous when the pH rises again.",
            _FALLING_SURE,
            (_LOOK, _STOP_FEEDING, _CUP, _TEST, _CHANGE),
            (_NO_CHASE, _NO_MIX, _HANDS),
            10 * MINUTE_MS,
            30 * MINUTE_MS,
            0.1,
        ),
        Alarm(
            "ph-crash",
            "high",
            "pH crash",
            "The pH is so low that fish suffer. In soft water much CO2 alone can do this in a night; or the buffer "
            "is as good as gone, or something acid got in.",
            _FALLING_SURE,
            (
                _LOOK,
                "Call somebody who knows fish, a vet or a keeper near by; this does not wait until morning.",
                _STOP_FEEDING,
                _CUP,
                _TEST,
                "If KH is near zero: raise it slowly, in small steps, with what you have for it and as its label says; "
                "if there is ammonia, slower still, since a rising pH makes it poisonous.",
                _CHANGE,
            ),
            (_NO_CHASE, _NO_MIX, _HANDS),
            5 * MINUTE_MS,
            60 * MINUTE_MS,
            0.2,
        ),
        Alarm(
            "ph-high",
            "low",
            "pH is high",
            "The pH is above its upper limit. In the afternoon algae use up CO2 and pH rises, highest late in the "
            "afternoon; the higher the pH, the larger the share of ammonia that is poisonous.",
            "Judged on good readings over two hours. A new concrete wall or lime in the pond does the same.",
            (
                "Look at the fish, and at the water: green? much string algae?",
                "Test ammonia; if there is any, feed nothing and change part of the water: dechlorinated, of like "
                "temperature, slowly.",
                "Aerate through the night: after a high dusk comes a low dawn, in pH and in oxygen.",
                "Shade helps over the coming days; test KH, since soft water swings most.",
            ),
            ("No acid against a high afternoon pH: it falls by itself after sunset.", _NO_MIX),
            2 * HOUR_MS,
            30 * MINUTE_MS,
            0.1,
        ),
        Alarm(
            "sudden-drop",
            "high",
            "pH is falling faster than usual",
            "The pH falls faster than this pond does at this hour. Something adds CO2 or uses up the buffer: air that "
            "has stopped, a cloudburst, a die-off, something poured in. What makes CO2 also uses oxygen.",
            "Compared with the same hour of earlier days where there are some; it has gone on over ten minutes "
            "of good readings at least.",
            (
                _LOOK,
                "See that pumps, air and filter run, and that nothing has run or fallen into the pond; if something "
                "has, keep what is left of it for a vet.",
                _STOP_FEEDING,
                _CUP,
                _TEST,
                _CHANGE,
            ),
            (_NO_CHASE, _NO_MIX, _HANDS),
            0,
            60 * MINUTE_MS,
        ),
        Alarm(
            "night-slide",
            "medium",
            "The pH may slide tonight",
            "This night takes another course than this pond's nights do, or leads below the lower limit. CO2 gathers "
            "where air has stopped, where something decays or where rain has thinned the buffer; what makes CO2 also "
            "uses oxygen, and fish feel that first.",
            "A forecast from this pond's own nights and from tonight's fall, made again every ten minutes; the range "
            "in brackets holds the low in eight nights of ten.",
            (
                _LOOK,
                "See that pumps, air and filter run, and that nothing has run or fallen into the pond.",
                _STOP_FEEDING,
                _CUP,
                _TEST,
                "Leave the air on until the morning sun is on the pond, and look again at the hour named above.",
            ),
            (_NO_CHASE, _NO_MIX, _HANDS),
            10 * MINUTE_MS,
            60 * MINUTE_MS,
        ),
        Alarm(
            "buffer-running-out",
            "low",
            "The buffer is running out",
            "Night by night the filter, rain and decay use up the water's buffer (KH). While some is left the pH looks "
            "calm; once it is gone the pH falls within a few nights. There is time to act by day and without hurry.",
            "A forecast from this pond's dawn lows of the last weeks, true eight times in ten within the range given. "
            "A slow rise in feed or fish, or a probe that drifts, looks the same.",
            (
                "Test KH by hand and log it: it settles the matter, and the forecast is narrower from then on.",
                "Check the probe in a buffer solution, the more so where the date moves from day to day.",
                "If KH is low: raise it slowly over days, with bicarbonate as its label says, or by part water changes "
                "with water of higher KH. Log what you do; the forecast reckons with it.",
                "Feed less until KH is back. Look at the shell or coral in the filter: is it coated?",
                "Test ammonia: a filter that runs out of buffer stops working.",
            ),
            (_NO_CHASE, _NO_MIX),
            0,
            DAY_MS,
        ),
        Alarm(
            "wide-swing",
            "low",
            "pH swings widely",
            "Between its highest and its lowest the pH moved more than it should in 24 hours: much algae, or little "
            "buffer to steady it.",
            "From the smoothed record of the last 24 hours.",
            (
                "Test KH at the next good moment: a low KH is the usual cause.",
                "Keep the air on at night.",
                "Thin out string algae in small portions over days.",
            ),
            ("No hurry: change things slowly.",),
            30 * MINUTE_MS,
            DAY_MS,
            0.1,
        ),
        Alarm(
            "no-data",
            "medium",
            "A probe is silent",
            "Nothing has come from this probe for some time. Until it speaks again nobody watches what it watched.",
            "Certain: it is the absence of data. It says nothing about the pond.",
            (
                "Look at the pond and the fish all the same: a power failure may have stopped the air, too.",
                "Check the probe's cable, its power, and the network or the serial plug.",
                "`dawnline check` names the port or the broker that does not answer.",
            ),
            (_HANDS,),
            0,
            10 * MINUTE_MS,
        ),
        Alarm(
            "probe-suspect",
            "medium",
            "A probe cannot be believed",
            "The probe's readings are not those of water: jumps, spikes, values out of range. It may be dry, bumped, "
            "fouled or broken.",
            "Likely the instrument, not the pond; a hand test tells.",
            (
                "Read the pH by hand, and look at the fish.",
                "See whether the probe hangs in the water, whole and wet, and its plug is dry.",
                "Clean it, check it in a buffer solution, and calibrate it if it is off.",
            ),
            ("Keep buffer solutions out of the pond. Glass electrodes break: mind your hands.",),
            0,
            10 * MINUTE_MS,
        ),
        Alarm(
            "calibration-due",
            "low",
            "A pH probe wants calibrating",
            "It is time to put this probe into buffer solutions. An electrode drifts, unseen, by some hundredths of pH "
            "a week; its alarms come as much too early or too late.",
            "By age it is a precaution. A slope that has sunk, or hand tests and buffers it disagrees with, are "
            "facts: believe the probe less until it is done.",
            (
                "`dawnline probes check NAME --buffer 7` takes a minute and says how far it is off.",
                "Clean it, then `dawnline probes calibrate NAME` leads through one, two or three buffers.",
                "Where the slope stays under 85 %, the electrode is worn out: have a new one ready.",
            ),
            (
                "Use fresh buffer, never pour used buffer back, and keep it out of the pond.",
                "Do not wipe the glass dry, and do not let it dry out. It breaks: mind your hands.",
            ),
            0,
            10 * MINUTE_MS,
        ),
        Alarm(
            "clock-unset",
            "low",
            "The clock is not set",
            "This computer does not know the time, as happens after a power cut to a board without a clock of its own. "
            "Limits, silence and sick probes are watched all the same, on provisional times that go on from the "
            "record; days and forecasts wait. Every reading is kept and gets its time when the clock is set.",
            "Certain that nothing shows the clock to be set; by chance it may be right. It says nothing of the pond.",
            (
                "See that the network is there, and that time synchronisation runs: `timedatectl` shows both.",
                "Without a network set the clock by hand: `sudo date --set '2026-06-13 21:00'`; the watch takes note.",
                'Where the clock is right by other means, say so in the configuration: [clock] trust = "always". '
                "`dawnline check` says what was looked at.",
                "A small clock module with a battery ends this for good.",
            ),
            (
                "Do not cut the power meanwhile: readings of a start that ended without a set clock keep their order, "
                "and their hour is never known.",
            ),
            30 * MINUTE_MS,
        ),
        Alarm(
            "delivery-failing",
            "high",
            "Notices do not arrive",
            "A notice could not be delivered. Until it arrives, an alarm may reach nobody on this way.",
            "Certain that it did not arrive; the fault may lie with the receiver, the network, or our own settings.",
            (
                "`dawnline check --notify` tries every address and says how each ended.",
                "Mend the address, the password or the network; notices that wait are sent by themselves.",
                "Until then look at the pond yourself, the more so at night.",
            ),
            ("Do not switch the alarm off to have peace: it is the one that tells you that nobody is told.",),
            MINUTE_MS,
            10 * MINUTE_MS,
        ),
    )
}


def names() -> tuple[str, ...]:
    """The alarms that exist, in the order of this file."""
    return tuple(CATALOGUE)
