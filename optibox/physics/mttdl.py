"""Mean time to data loss: the textbook formulas, all of them optimistic.

They assume independent, exponential failures. They serve as cross-checks and as the
familiar figure, labelled optimistic wherever it is shown.
"""


def mttdl_double_failure_h(
    n_drives: float,
    group: int,
    mttf_h: float,
    mttr_h: float,
    second_mttf_h: float | None = None,
) -> float:
    """Return the mean time to a second failure within a group's repair. [h].

    Parameters
    ----------
    n_drives : float
        All drives of all groups, parity included.
    group : int
        Drives of one parity group or mirror, parity included.
    mttf_h, mttr_h : float
        Mean times to failure and to repair. [h]
    second_mttf_h : float, optional
        Mean time to failure during a repair, shorter where failures go together. [h]

    Returns
    -------
    float
        MTTF MTTF_2 / (N (G - 1) MTTR). [h]

    References
    ----------
    .. [1] Patterson, Gibson, Katz, "A case for redundant arrays of inexpensive disks",
       SIGMOD 1988.
    .. [2] Chen, Lee, Gibson, Katz, Patterson, "RAID: high-performance, reliable
       secondary storage", ACM Computing Surveys 26(2), 1994, section 3.4.

    Examples
    --------
    >>> mttdl_double_failure_h(200, 2, 30_000.0, 1.0)
    4500000.0
    """
    second_h = mttf_h if second_mttf_h is None else second_mttf_h
    return mttf_h * second_h / (n_drives * (group - 1) * mttr_h)


def mttdl_double_parity_h(n_drives: int, mttf_h: float, mttr_h: float) -> float:
    """Return the mean time to a third failure, one repair at a time. [h].

    Where two repairs run in parallel it is twice as long.

    Parameters
    ----------
    n_drives : int
        Drives of the group, parity included.
    mttf_h, mttr_h : float
        Mean times to failure and to repair. [h]

    Returns
    -------
    float
        MTTF^3 / (N (N - 1) (N - 2) MTTR^2), for repairs much shorter than lives. [h]

    Examples
    --------
    >>> round(mttdl_double_parity_h(6, 1e6, 24.0) / 1e13, 4)
    1.4468
    """
    orders = n_drives * (n_drives - 1) * (n_drives - 2)
    return mttf_h**3 / (orders * mttr_h**2)
