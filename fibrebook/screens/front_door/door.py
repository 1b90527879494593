"""Our own lines of what asks for attention, the most pressing first, through the same door as a plugin's."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.plugins import Attention, Page, hookimpl

WHERE = "fibrebook.screens.front_door.attention"
OURS = (
    Attention("Tests that failed", f"{WHERE}:failed_tests", "Newest tests over their limit, or said to have failed."),
    Attention("Losses over the limit", f"{WHERE}:over_the_limit", "Channels that lose more than they may."),
    Attention("No spare core", f"{WHERE}:no_spare", "Sites without a spare core."),
    Attention("Running out of spare cores", f"{WHERE}:running_out", "Sites that soon have none."),
    Attention("Temporary cords", f"{WHERE}:temporary_cords", "Cords meant for a while only."),
    Attention("Open snags", f"{WHERE}:open_snags", "What was left open."),
    Attention("In use and not tested", f"{WHERE}:not_tested", "Channels never accepted as they are now."),
)

OUR_SCREENS = (
    Page(
        "return-visit",
        "fibrebook.screens:return_visit",
        "Which core goes where; open doors, snags, photos, what goes dark.",
        "Return visit",
        ("visit", "return"),
    ),
    Page(
        "record-visit",
        "fibrebook.screens:record_visit",
        "What was made today: splices, cords, tests, snags, photos.",
        "Record a visit",
        ("record", "visit"),
    ),
    Page(
        "site-picture",
        "fibrebook.screens:site_picture",
        "Buildings and cables of a site; click to ask.",
        "Site picture",
        ("picture", "map", "schematic"),
    ),
    Page(
        "sites",
        "fibrebook.screens:sites",
        "A new site, or what is known of one: customer, address, access, hazards.",
        "Sites",
        ("new", "site", "customer", "access"),
    ),
    Page(
        "spares",
        "fibrebook.screens:spares",
        "What is left at each site and between buildings; reserve cores.",
        "Spares",
        ("spare", "spares", "left"),
    ),
    Page(
        "headroom",
        "fibrebook.screens:headroom",
        "Which channel has how much loss left, and what else would run.",
        "Headroom",
        ("headroom", "loss", "budget"),
    ),
    Page(
        "tests-and-faults",
        "fibrebook.screens:tests_and_faults",
        "What passed, where it is broken, what dead channels share.",
        "Tests and faults",
        ("untested", "faults", "broken", "splices", "acceptance"),
    ),
    Page(
        "bring-in",
        "fibrebook.screens:bring_in",
        "A workbook, an old list of yours, a splicer's or meter's file.",
        "Bring in a list",
        ("bring", "import", "list", "workbook"),
    ),
    Page(
        "any-list",
        "fibrebook.screens:any_list",
        "An old list of any shape: pointed at, asked about, confirmed.",
        "Any list in",
        ("list", "old", "spreadsheet", "paste", "any"),
    ),
    Page(
        "bring-back",
        "fibrebook.screens:bring_back",
        "A copy for a site without signal, and its return.",
        "Take away, bring back",
        ("copy", "take", "bring"),
    ),
    Page(
        "history",
        "fibrebook.screens:history",
        "Who changed what and when; undo; a site as it was on a day.",
        "History",
        ("history", "undo", "changed"),
    ),
)  # fmt: skip


@hookimpl
def screens() -> Iterable[Page]:
    """Give the built-in screens."""
    return OUR_SCREENS


@hookimpl
def attention() -> Iterable[Attention]:
    """Give the built-in lines."""
    return OURS
