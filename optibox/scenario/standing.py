"""A scenario as it is asked of a machine that stands already."""

from optibox.scenario.records import Scenario


def as_it_stands(scenario: Scenario) -> Scenario:
    """Return a scenario whose owned drives hold nothing that has to be moved first.

    A machine that stands has its files on its array: nobody moves into it.
    """
    gone = {"holds_data": False, "held_tb": None, "old_array": ""}
    owned = tuple(piece.model_copy(update=gone) for piece in scenario.owned)
    return scenario.model_copy(update={"owned": owned}) if owned else scenario
