"""Our own advice checks and analyses, through the same door as a plugin's."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.analyses.advice.declared import OUR_CHECKS
from fibrebook.plugins import AdviceCheck, Analysis, HardRule, hookimpl

ROOM = "fibrebook.analyses"
OUR_ANALYSES = (
    Analysis("acceptance", f"{ROOM}.tested.acceptance:acceptance", "Each test against the limit of its stretch."),
    Analysis("advice", f"{ROOM}.advice.advice:advice", "What is worth a second look."),
    Analysis("cross_reference", f"{ROOM}.paths.cross_reference:cross_reference", "Which core is on which port."),
    Analysis("failed_tests", f"{ROOM}.tested.failed:failed_tests", "Tests that failed, and none since."),
    Analysis("headroom", f"{ROOM}.budgets.headroom:headroom", "How much loss each channel has left."),
    Analysis("loss_spread", f"{ROOM}.budgets.loss_spread:loss_spread", "How far losses lie about their mean."),
    Analysis("polarity", f"{ROOM}.paths.polarity:polarity", "Whether transmit reaches receive."),
    Analysis("room_for", f"{ROOM}.budgets.room_for:room_for", "What more each channel would bear."),
    Analysis("spare", f"{ROOM}.spare.spare:spare", "How many cores are spare at each site."),
    Analysis("spare_growth", f"{ROOM}.spare.growth:spare_growth", "When spare cores run out."),
    Analysis("splice_quality", f"{ROOM}.tested.splice_quality:splice_quality", "How well each splicer does."),
    Analysis("splice_readings", f"{ROOM}.tested.splice_readings:splice_readings", "Splices measured from both ends."),
    Analysis("untested", f"{ROOM}.tested.untested:untested", "What was disturbed since it was last tested."),
)


@hookimpl
def advice_checks() -> Iterable[AdviceCheck]:
    """Give the built-in checks."""
    return OUR_CHECKS


@hookimpl
def hard_rules() -> Iterable[HardRule]:
    """Give the rule that a firm's own values fit the tables that they extend."""
    return (
        HardRule(
            "values that fit",
            "fibrebook.light.catalogue.firm_rows:firm_problems",
            "A firm's own value or choice is one that its table can take.",
            ("choices", "reference_values", "colour_codes"),
        ),
    )


@hookimpl
def analyses() -> Iterable[Analysis]:
    """Give the built-in analyses that answer for a whole register."""
    return OUR_ANALYSES
