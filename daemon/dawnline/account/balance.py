"""The running balance: alkalinity, what is gained or lost beside the feed, and how much of the feed counts.

A Kalman filter (Kalman 1960) of three: A [meq/L]; the gain r of all that nobody reckons up, shell first of all
[meq/L a day]; and q, the nitrogen that ends as nitrate as a share of the ammonia that fish give off. dA/dt = r - q n(t)
with n what feed takes at q = 1. Tests of KH correct all three, so the shell is known by what it delivers.
"""

from __future__ import annotations

from math import sqrt
from typing import Final

# Common sense, tried on simulated ponds (tests/benchmarks/account.py --dev).
FIRST_GAIN_SD: Final = 0.02  # meq/L a day
UNFED_GAIN_SD: Final = 0.08  # where nothing is known of the feed
# Tanks need 200 to 250 g of bicarbonate of soda a kg of feed (practice; Timmons and Ebeling, from memory), 1.04 to 1.3
# times the 193 g that its ammonia alone takes, since faeces and urea rot to ammonia, too. In a pond algae keep some of
# the nitrogen and mud denitrifies some; that takes nothing in the end.
FIRST_SHARE, FIRST_SHARE_SD = 1.0, 0.25
# All that does not become fish, 0.84 of the feed's nitrogen, over the 0.576 given off as ammonia: 80 % is digested,
# 80 % of that given off, 90 % of this as ammonia (what the 0.092 of terms.py is made of; from memory).
MOST_SHARE: Final = 0.84 / 0.576
WANDER: Final = 0.012  # meq/L, per root day: of A
GAIN_WANDER: Final = 0.002  # meq/L a day, per root day: of r


class Balance:
    """The three, as means and covariances."""

    def __init__(self, alkalinity: float, sd: float, *, fed: bool) -> None:
        gain = FIRST_GAIN_SD if fed else UNFED_GAIN_SD
        self.mean = [alkalinity, 0.0, FIRST_SHARE]
        self.cov = [[sd * sd, 0.0, 0.0], [0.0, gain * gain, 0.0], [0.0, 0.0, FIRST_SHARE_SD**2]]

    @property
    def sd(self) -> float:
        """Of the alkalinity [meq/L]."""
        return sqrt(max(self.cov[0][0], 0.0))

    def rate(self, feed: float) -> tuple[float, float]:
        """What is gained a day [meq/L] where feed takes so much, and its standard deviation."""
        c, n = self.cov, feed
        variance = c[1][1] + n * n * c[2][2] - 2.0 * n * c[1][2]
        return self.mean[1] - n * self.mean[2], sqrt(max(variance, 0.0))

    def advance(self, days: float, feed: float) -> None:
        """So many days where feed takes so much [meq/L a day]."""
        step, used = days, -feed * days
        self.mean[0] = max(self.mean[0] + step * self.mean[1] + used * self.mean[2], 0.0)
        rows = [
            [self.cov[0][j] + step * self.cov[1][j] + used * self.cov[2][j] for j in range(3)],
            self.cov[1],
            self.cov[2],
        ]
        self.cov = [[row[0] + step * row[1] + used * row[2], row[1], row[2]] for row in rows]
        self.cov[0][0] += WANDER * WANDER * days
        self.cov[1][1] += GAIN_WANDER * GAIN_WANDER * days

    def step(self, keeps: float, adds: float, sd: float = 0.0) -> None:
        """A known step: this share of A stays, so much is added, known to within `sd` [meq/L]."""
        self.mean[0] = max(keeps * self.mean[0] + adds, 0.0)
        for k in range(3):
            self.cov[0][k] *= keeps
            self.cov[k][0] *= keeps
        self.cov[0][0] += sd * sd

    def test(self, low: float, high: float, sd: float) -> float:
        """A test found A between `low` and `high` [meq/L], its ends blurred by `sd`; gives by how much A was off.

        Every alkalinity of the interval is as likely: its middle, with a variance of a twelfth of its width squared.
        """
        variance = (high - low) ** 2 / 12.0 + sd * sd
        found = (low + high) / 2.0 - self.mean[0]
        total = self.cov[0][0] + variance
        gains = [self.cov[k][0] / total for k in range(3)]
        first = list(self.cov[0])
        for k in range(3):
            self.mean[k] += gains[k] * found
            self.cov[k] = [self.cov[k][j] - gains[k] * first[j] for j in range(3)]
        self.mean[0] = max(self.mean[0], 0.0)
        self.mean[2] = min(max(self.mean[2], 0.0), MOST_SHARE)
        return gains[0] * found
