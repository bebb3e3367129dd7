"""A measuring sheet as JSON.

Keys: ``format``; ``meter`` (``resolution_w``, ``repeatability_w``, ``error_w`` of one
reading at this pace, ``difference_w`` known to 95 %); ``minutes`` with ``asked``,
``power``, ``transfers``; ``power``: wall readings in order (``state``, ``removed``,
``refitted``, ``fitted`` by item key, ``system``, ``expected_w``, ``tolerance_w``,
``minutes``, ``tells``); ``left_out`` (``what``, ``why``);
``transfers``: tests (``operation``, ``way``, ``size_gb``, ``drives``, ``target``,
``mode``, ``expected_mb_s``, ``low_mb_s``, ``high_mb_s``, ``binds``, ``minutes``,
``purpose``); ``decisions``: ``keep``, ``change``, ``gain``;
``at_stake`` and ``worth`` of the readings, in the currency; ``n_open``, ``n_open_after``; ``cautions``.
"""

import json
from typing import Any

from optibox.measure.design import Step
from optibox.measure.sheet import Sheet
from optibox.measure.transfers import TransferTest
from optibox.present.sheet_words import AT_END, BEFORE, transfer_minutes

FORMAT = 1
_DIGITS = 4


def sheet_json(sheet: Sheet) -> str:
    """Return a sheet as JSON text."""
    design = sheet.design
    table = {
        "format": FORMAT,
        "meter": {
            "resolution_w": sheet.meter.resolution_w,
            "repeatability_w": sheet.meter.repeatability_w,
            "error_w": _round(design.error_w),
            "difference_w": _round(design.difference_w),
        },
        "minutes": {
            "asked": sheet.minutes,
            "power": _round(design.minutes),
            "transfers": _round(transfer_minutes(sheet)),
        },
        "power": [_step(step) for step in design.steps],
        "left_out": [{"what": one.label, "why": one.reason} for one in design.left_out],
        "transfers": [_test(test) for test in sheet.tests],
        "decisions": [
            {"keep": d.keep, "change": d.change, "gain": round(d.gain, 2)}
            for d in sheet.decisions
        ],
        "currency": sheet.currency,
        "at_stake": round(design.at_stake, 2),
        "worth": round(design.worth, 2),
        "n_open": design.n_open,
        "n_open_after": design.n_open_after,
        "cautions": [*BEFORE, AT_END],
    }
    return json.dumps(table, ensure_ascii=False, indent=2) + "\n"


def _round(value: float) -> float:
    return round(value, _DIGITS)


def _step(step: Step) -> dict[str, Any]:
    told = step.told
    return {
        "state": step.situation.state,
        "system": "normal" if step.is_normal else "separate boot medium",
        "fitted": dict(step.situation.fitted),
        "removed": dict(step.removed),
        "refitted": dict(step.refitted),
        "expected_w": _round(step.expected_w),
        "tolerance_w": _round(step.tolerance_w),
        "minutes": _round(step.minutes),
        "purpose": step.purpose,
        "tells": None
        if told is None
        else {
            "key": told.key,
            "pieces": told.count,
            "aspect": told.aspect,
            "known_to_w": _round(told.before_w),
            "by_this_to_w": _round(told.by_difference_w),
        },
    }


def _test(test: TransferTest) -> dict[str, Any]:
    return {
        "operation": test.operation,
        "way": test.way,
        "size_gb": test.size_gb,
        "drives": test.n_drives,
        "target": test.target,
        "mode": test.mode,
        "expected_mb_s": _round(test.expected_mb_s),
        "low_mb_s": _round(test.low_mb_s),
        "high_mb_s": _round(test.high_mb_s),
        "binds": test.stage,
        "minutes": _round(test.minutes),
        "purpose": test.purpose,
    }
