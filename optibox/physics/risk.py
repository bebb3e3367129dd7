"""The chance of losing data, as far as drives failing by themselves decide it.

Every probability is 1 - exp(-expression), with one repair at a time. Independent
failures and independent bit errors are idealisations: field studies find two to 1 500
times as many double failures as such formulas predict (Elerath and Pecht, DSN 2007,
doi:10.1109/DSN.2007.41). Deletion, malware, theft, fire, surge, a failing supply and a
wrong drive pulled are not in it, and parity is not a backup.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hazard:
    """What failures are counted over.

    Attributes
    ----------
    failures_per_year : float
        Annual failure rate of one drive, lambda. [1/year]
    years : float
        Span looked at, T. [years]
    repair_years : float
        From a failure to the end of its repair, M: waiting, replacing, rebuilding.
        [years]
    """

    failures_per_year: float
    years: float
    repair_years: float

    def first_failures(self, n_drives: int) -> float:
        """Return the expected failures among drives in the span."""
        return n_drives * self.failures_per_year * self.years

    def during_repair(self, n_drives: int) -> float:
        """Return the expected failures among drives during one repair."""
        return n_drives * self.failures_per_year * self.repair_years


@dataclass(frozen=True, slots=True)
class Loss:
    """Two ways to lose data: one failure too many, or an unreadable sector."""

    too_many_failures: float
    unreadable_sector: float

    @property
    def either(self) -> float:
        """The probability of at least one of the two."""
        return 1.0 - (1.0 - self.too_many_failures) * (1.0 - self.unreadable_sector)


def probability(expected_events: float) -> float:
    """Return the chance of at least one event where some are expected.

    Parameters
    ----------
    expected_events : float
        Mean number of a Poisson process.

    Returns
    -------
    float
        1 - exp(-expected), exact for small ones too.

    Examples
    --------
    >>> round(probability(0.64), 6)
    0.472708
    """
    return -math.expm1(-expected_events)


def sector_error_probability(read_bytes: float, bit_error_rate: float) -> float:
    """Return the chance of an unreadable sector in a long read.

    Parameters
    ----------
    read_bytes : float
        What is read. [B]
    bit_error_rate : float
        Unreadable bits for each bit read: 1e-16 to 1e-14; datasheets state an upper
        bound.

    Returns
    -------
    float
        1 - exp(-bits * rate).

    Examples
    --------
    >>> round(sector_error_probability(8e12, 1e-14), 6)
    0.472708
    """
    return probability(8.0 * read_bytes * bit_error_rate)


def loss_without_redundancy(n_drives: int, hazard: Hazard) -> Loss:
    """Return the chance of loss where every failure loses a drive's data.

    Parameters
    ----------
    n_drives : int
        Drives that hold data.
    hazard : Hazard
        Failure rate, span and repair.

    Returns
    -------
    Loss
        n lambda T; no rebuild, so no sector term.

    Examples
    --------
    >>> round(loss_without_redundancy(4, Hazard(0.02, 5.0, 0.01)).either, 4)
    0.3297
    """
    return Loss(probability(hazard.first_failures(n_drives)), 0.0)


def loss_of_pairs(n_pairs: int, hazard: Hazard, sector_error_one_drive: float) -> Loss:
    """Return the chance of loss of mirrored pairs.

    Parameters
    ----------
    n_pairs : int
        Pairs, q.
    hazard : Hazard
        Failure rate, span and repair.
    sector_error_one_drive : float
        Chance of an unreadable sector while reading one whole drive.

    Returns
    -------
    Loss
        2 q lambda T times lambda M, and times that chance.

    Examples
    --------
    >>> round(loss_of_pairs(2, Hazard(0.02, 5.0, 0.01), 0.03).unreadable_sector, 5)
    0.01193
    """
    first = hazard.first_failures(2 * n_pairs)
    return Loss(
        probability(first * hazard.during_repair(1)),
        probability(first * sector_error_one_drive),
    )


def loss_of_single_parity(
    n_drives: int, hazard: Hazard, sector_error_survivors: float
) -> Loss:
    """Return the chance of loss with single parity.

    Parameters
    ----------
    n_drives : int
        Data and parity drives.
    hazard : Hazard
        Failure rate, span and repair.
    sector_error_survivors : float
        Chance of an unreadable sector while reading the n - 1 survivors.

    Returns
    -------
    Loss
        n lambda T times (n-1) lambda M, and times that chance.

    Examples
    --------
    >>> loss = loss_of_single_parity(5, Hazard(0.02, 5.0, 0.01), 0.12)
    >>> round(loss.too_many_failures, 6), round(loss.unreadable_sector, 4)
    (0.0004, 0.0582)
    """
    first = hazard.first_failures(n_drives)
    return Loss(
        probability(first * hazard.during_repair(n_drives - 1)),
        probability(first * sector_error_survivors),
    )


def loss_of_double_parity(
    n_drives: int, hazard: Hazard, sector_error_survivors: float
) -> Loss:
    """Return the chance of loss with double parity, one repair at a time.

    Parameters
    ----------
    n_drives : int
        Data and parity drives.
    hazard : Hazard
        Failure rate, span and repair.
    sector_error_survivors : float
        Chance of an unreadable sector while reading the survivors of two failures.

    Returns
    -------
    Loss
        n lambda T (n-1) lambda M times (n-2) lambda M, and times that chance.

    Examples
    --------
    >>> loss = loss_of_double_parity(6, Hazard(0.02, 5.0, 0.01), 0.12)
    >>> round(loss.unreadable_sector, 6)
    7.2e-05
    """
    second = hazard.first_failures(n_drives) * hazard.during_repair(n_drives - 1)
    return Loss(
        probability(second * hazard.during_repair(n_drives - 2)),
        probability(second * sector_error_survivors),
    )


def expected_tb_lost(loss: Loss, tb_by_failures: float, tb_by_sector: float) -> float:
    """Return the expected loss of data. [TB].

    What goes with a failure depends on the layout: of independent drives the files on
    those that died, of a stripe all there is.

    Parameters
    ----------
    loss : Loss
        Chances of both ways.
    tb_by_failures, tb_by_sector : float
        What is lost when it happens. [TB]

    Returns
    -------
    float
        [TB]

    Examples
    --------
    >>> expected_tb_lost(Loss(0.01, 0.05), 8.0, 0.0)
    0.08
    """
    return loss.too_many_failures * tb_by_failures + (
        loss.unreadable_sector * tb_by_sector
    )
