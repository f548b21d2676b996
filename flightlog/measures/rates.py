"""How often something happens: a rate or a share with its 95 % interval, honest when counts are small."""

from __future__ import annotations

import math

from flightlog.estimates import NORMAL_95, Estimate

TAIL = 0.025
"""Left out on each side of a 95 % interval."""


def poisson_rate(count: int, exposure: float) -> Estimate | None:
    """Events per unit of exposure; None without exposure.

    Parameters
    ----------
    count : int
        Events seen, 0 or more.
    exposure : float
        In how many units (landings, hours) they were seen.

    Returns
    -------
    Estimate or None
        The interval is the exact one: at either end the chance of a count as far off is 2.5 %. It takes the
        events for independent of each other; several go-arounds on one windy day are not quite.

    References
    ----------
    Garwood 1936, Biometrika 28:437-442: fiducial limits for the Poisson distribution.

    Examples
    --------
    >>> poisson_rate(0, 1).high > 3.68
    True
    """
    from scipy.special import gammaincinv

    if count < 0:
        raise ValueError(f"count {count} is negative")
    if not exposure > 0:
        return None
    low = float(gammaincinv(count, TAIL)) if count else 0.0
    high = float(gammaincinv(count + 1, 1.0 - TAIL))
    return Estimate(count / exposure, low / exposure, high / exposure)


def binomial_share(count: int, total: int) -> Estimate | None:
    """Share of the cases in which something happened; None without a case.

    Parameters
    ----------
    count, total : int
        How often it happened, and out of how many; `0 <= count <= total`.

    Returns
    -------
    Estimate or None
        With the score interval, which stays within 0 to 1 and has a width when nothing, or all, happened.

    References
    ----------
    Wilson 1927, J. Am. Stat. Assoc. 22:209-212; recommended for small counts by Brown, Cai and DasGupta 2001,
    Statistical Science 16:101-133.

    Examples
    --------
    >>> share = binomial_share(0, 20)
    >>> share.low, round(share.high, 4)
    (0.0, 0.1611)
    """
    if not 0 <= count <= total:
        raise ValueError(f"count {count} does not lie between 0 and the total {total}")
    if total == 0:
        return None
    share, z2 = count / total, NORMAL_95**2
    middle = (share + z2 / (2 * total)) / (1 + z2 / total)
    half = NORMAL_95 / (1 + z2 / total) * math.sqrt(share * (1 - share) / total + z2 / (4 * total**2))
    low = 0.0 if count == 0 else max(middle - half, 0.0)
    high = 1.0 if count == total else min(middle + half, 1.0)
    return Estimate(share, low, high)
