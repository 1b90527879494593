"""Which commands of ours there are, through the same door as a plugin's: in the order of the work."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.plugins import Command, hookimpl

ROOM = "fibrebook.cli"
OUR_COMMANDS = (
    Command("demo", f"{ROOM}.start:demo", "Make the demo register and print the three answers."),
    Command("open", f"{ROOM}.start:open_page", "Open the front page: find, attention, every screen."),
    Command("new", f"{ROOM}.files:new", "Make a new, empty register."),
    Command("bring-in", f"{ROOM}.files:bring_in_files", "Bring workbooks or a firm's own lists in."),
    Command("read-list", f"{ROOM}.reading.read_list:read_list_file", "Read a firm's own list of any shape."),
    Command("send-out", f"{ROOM}.files:send_out_file", "Write a workbook to work in."),
    Command("which", f"{ROOM}.answers:which", "Print the path through a core or port, both ways."),
    Command("find", f"{ROOM}.on_site:find_command", "Find anything: part of a label, a colour and number, a customer."),
    Command("about", f"{ROOM}.on_site:about", "Tell a site in one look: whom to call, cables, what is open."),
    Command("on", f"{ROOM}.on_site:on", "List what is on a switch, panel, tray or cable, and where it leads."),
    Command("goes-dark", f"{ROOM}.on_site:goes_dark", "List the channels that stop if a thing is unplugged or cut."),
    Command("no-light", f"{ROOM}.on_site:no_light", "Say what to check first where there is no light."),
    Command("sites", f"{ROOM}.answers:sites", "List the sites."),
    Command("spare", f"{ROOM}.answers:spare", "Tell what is spare, by site, cable, core or between places."),
    Command("headroom", f"{ROOM}.answers:headroom", "Tell loss against limit, tightest first."),
    Command("advice", f"{ROOM}.answers:advice", "Tell what is worth a second look."),
    Command("would-run", f"{ROOM}.light:would_run", "Tell which applications would run over a path."),
    Command("room-for", f"{ROOM}.light:room_for", "Tell how many more joints or metres channels would bear."),
    Command("acceptance", f"{ROOM}.light:acceptance", "Judge loss tests against their limits."),
    Command("untested", f"{ROOM}.light:untested", "List what was never tested, or before it was last disturbed."),
    Command("polarity", f"{ROOM}.light:polarity", "Judge the polarity of channels."),
    Command("locate", f"{ROOM}.light:locate", "Name the place at an OTDR distance."),
    Command(
        "splices",
        f"{ROOM}.light:splice_quality",
        "Tell how well splices were made, by whom and when.",
    ),
    Command("pedigree", f"{ROOM}.light:pedigree", "Tell where published values come from."),
    Command("site-page", f"{ROOM}.sheets_out:site_page", "Write one file that tells a site on a phone."),
    Command("next-visit", f"{ROOM}.sheets_out:next_visit", "Write what to know, take and do at the next visit."),
    Command("hand-over", f"{ROOM}.sheets_out:hand_over", "Write what the customer gets, as one PDF."),
    Command("sheet", f"{ROOM}.sheets_out:sheet", "Write any sheet by its name, a plugin's too."),
    Command("invoice-lines", f"{ROOM}.files:invoice_lines", "Count the work of a visit, or between two days."),
    Command("ask", f"{ROOM}.answers:ask", "Run any analysis by its name, a plugin's too."),
    Command("month", f"{ROOM}.on_site:month_command", "Tell what somebody recorded in a month."),
    Command("history", f"{ROOM}.files:history", "Tell who changed what, when and why."),
    Command("undo", f"{ROOM}.files:undo", "Take one commit back."),
    Command("verify", f"{ROOM}.files:verify", "Read everything again and name what is damaged."),
    Command("publish", f"{ROOM}.files:publish", "Write plain Parquet, one file a table."),
    Command("pending", f"{ROOM}.files:pending", "List edits that wait for a decision."),
    Command("take-away", f"{ROOM}.care:take_away", "Copy the register for a place without signal."),
    Command("bring-back", f"{ROOM}.care:bring_back", "Merge what was changed in a copy."),
    Command("conflicts", f"{ROOM}.care:conflicts", "Show an edit's conflicts, or decide them."),
    Command("differences", f"{ROOM}.care:differences", "Tell what differs between two commits or days."),
    Command("mend", f"{ROOM}.care:mend", "Put damaged files right."),
    Command("tidy", f"{ROOM}.care:tidy", "Give back the room of old states."),
    Command("redact", f"{ROOM}.care:redact", "Take personal data out of the whole past."),
    Command("take-as-it-is", f"{ROOM}.care:take_as_it_is", "Take the register as it stands, whatever was seen before."),
    Command("new-key", f"{ROOM}.care:new_key", "Make a key file to sign commits with."),
    Command("plugins", f"{ROOM}.start:plugins", "List what is at the plugin door."),
    Command("check-plugin", f"{ROOM}.start:check_plugin", "Try a plugin on a register of random rows."),
)


@hookimpl
def commands() -> Iterable[Command]:
    """Give the built-in commands."""
    return OUR_COMMANDS
