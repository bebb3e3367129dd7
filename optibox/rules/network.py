"""Rules of network leads, frames and encryption."""

from collections.abc import Iterator

from optibox.rules.context import Context
from optibox.rules.register import Finding, rule, warning

FAST_GBIT_S = 10.0
REACH_M = {"cat6": 55.0, "cat6a": 100.0}
"""Reach of 10 Gb/s over twisted pair, of category 6 outside bundles (IEEE 802.3an,
quoted from memory). [m]"""

USUAL_MTU_B = 1500
"""Largest payload of a standard frame (IEEE 802.3). [B]"""

SLOW_ENCRYPTION_GB_S = 0.5
"""Between 0.1-0.2 GB/s a core without instructions for it and 0.8-2 with; judgement."""


@rule(
    "N2",
    "The lead is made for 10 Gb/s",
    "Over a weaker or longer lead the link falls to a lower speed, or drops in and out.",
    severities=("warning",),
    remedy="Use category 6A, or a direct attach lead where the plugs allow it.",
)
def twisted_pair(context: Context) -> Iterator[Finding]:
    """Yield a warning where 10 Gb/s over twisted pair has a lead not made for it."""
    port = context.machine.network
    if port is None or port.lead is None or port.medium != "twisted pair":
        return
    if min(port.gbit_s, context.scenario.needs.other_end_gbit_s) < FAST_GBIT_S:
        return
    lead = port.lead
    if lead.type == "cat5e":
        yield warning(
            "N2",
            f"{lead.name}: category 5e is outside the standard at {port.gbit_s:g} Gb/s; "
            "short ones often work",
        )
    elif lead.length_m > REACH_M.get(lead.type, lead.length_m):
        yield warning(
            "N2",
            f"{lead.name} is {lead.length_m:g} m long, {REACH_M[lead.type]:g} m are what "
            f"{lead.type} reaches at 10 Gb/s",
        )


@rule(
    "N3",
    "Large frames are set at both ends",
    "Where one hop takes smaller frames, large transfers stall while small ones work.",
    severities=("warning",),
    remedy="Set the same frame size on every hop, or 1500 on all.",
)
def frame_size(context: Context) -> Iterator[Finding]:
    """Yield a warning where frame sizes differ, or only one end is known to be large."""
    around = context.machine.build.around
    mine, other = around.mtu_b, around.other_end_mtu_b
    if mine is None and other is None:
        return
    if mine is not None and other is not None:
        if mine != other:
            yield warning(
                "N3", f"frames of {mine} bytes here, {other} at the other end"
            )
        return
    known = mine if mine is not None else other
    if known is not None and known > USUAL_MTU_B:
        where = "here" if mine is not None else "at the other end"
        yield warning(
            "N3",
            f"frames of {known} bytes {where}; what the other hops take is not known",
        )


@rule(
    "M4",
    "Encryption has instructions of its own",
    "Without them every core is busy encrypting, and transfers crawl.",
    severities=("warning",),
    remedy="Use a processor with encryption instructions.",
)
def encryption(context: Context) -> Iterator[Finding]:
    """Yield a warning where encryption is asked for and the processor is slow at it."""
    part = context.machine.processor
    if part is None or not context.scenario.needs.encryption:
        return
    rate = part.encryption_gb_s_per_core.mid
    if rate < SLOW_ENCRYPTION_GB_S:
        yield warning(
            "M4",
            f"{part.name} encrypts {rate:g} GB/s a core, no more than without help",
        )
