"""A real browser without a screen: the system's Chromium, driven by Playwright.

Tests skip, with the reason, where there is none. ``OPTIBOX_CHROMIUM`` names one that is
elsewhere, and makes its absence a failure: that is how the full check insists.
"""

import os
import shutil
from pathlib import Path

import pytest

VARIABLE = "OPTIBOX_CHROMIUM"
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")


def chromium_path() -> str:
    """Return the path of a Chromium, or skip the test that asks."""
    wanted = os.environ.get(VARIABLE)
    if wanted:
        assert Path(wanted).is_file(), f"{VARIABLE} names {wanted}, which is no file"
        return wanted
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.skip("no Chromium found; apt-get install chromium, or set " + VARIABLE)
    return found
