"""Cases for test_bad_workbooks.py: sheets with one thing wrong in each, where that is and what is said of it."""

from __future__ import annotations

import datetime as dt

from openpyxl import Workbook

CABLE = ["site", "cable", "a_enclosure", "b_enclosure", "core_count"]
ENDS = ["S", "C9", "P1", "P2", 12]
CHANNEL = ["site", "channel", "a_equipment", "a_interface", "b_equipment", "b_interface"]
SPLICE = ["site", "enclosure", "tray", "slot", "a_cable", "a_core", "b_cable", "b_core"]
PATCH = ["site", "cord", "strand", "a_at", "a_port", "b_at", "b_port"]
TERMINATION = ["site", "enclosure", "port", "cable", "core"]
DAY = dt.date(2026, 1, 2)
EVERY = {  # a row of every kind of record that the small register takes as it stands; no two get in each other's way
    "sites": {"site": "S"},
    "locations": {"site": "S", "location": "Attic"},
    "enclosures": {"site": "S", "enclosure": "P9"},
    "ports": {"site": "S", "enclosure": "P1", "port": 9},
    "cables": {"site": "S", "cable": "C9", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 12},
    "cores": {"site": "S", "cable": "C1", "core": 12},
    "splices": dict(zip(SPLICE, ["S", "P1", 1, 1, "C1", 9, "C2", 9], strict=True)),
    "terminations": dict(zip(TERMINATION, ["S", "P1", 4, "C1", 10], strict=True)),
    "equipment": {"site": "S", "equipment": "SW9"},
    "interfaces": {"site": "S", "equipment": "SW1", "interface": 9, "position": "Tx"},
    "patches": {"site": "S", "cord": "X", "strand": 1, "a_at": "P1", "a_port": 1},
    "channels": dict(zip(CHANNEL, ["S", "N", "SW1", 1, "SW2", 1], strict=True)),
    "tests": {"site": "S", "test": 1},
    "events": {"site": "S", "test": 0, "event": 1},
    "visits": {"site": "S", "visit": 1},
    "snags": {"site": "S", "snag": 1},
    "photos": {"site": "S", "photo": 1, "file": f"{'0' * 64}.jpg"},
    "colour_codes": {"colour_code": "ours", "position": 1, "colour": "blue"},
    "choices": {"choice": "margin_db", "value": "1"},
    "reference_values": {
        "row": 1,
        "reference_table": "practice",
        "name": "splice usual limit",
        "value": 0.05,
        "basis": "seen",
        "source": "own bench",
    },
}


def cable(column, value):
    """Return a cables sheet with one more column, wrong in row 3."""
    return {"cables": [[*CABLE, column], [*ENDS[:1], "C8", *ENDS[2:], None], [*ENDS, value]]}


def one(sheet, columns, *rows):
    """Return a sheet."""
    return {sheet: [columns, *rows]}


def book(path, sheets):
    """Write sheets of rows as an .xlsx; text that begins with = is a formula here."""
    made = Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows or [[]]:
            sheet.append(row)
    made.save(path)
    return path


# name: (sheets, where it is said to be, what is said of it)
CELLS = {
    "count in words": (one("cables", CABLE, ["S", "C9", "P1", "P2", "twelve"]), "'cables', row 2, column E (core_count)", "no whole number"),
    "count nought": (one("cables", CABLE, ["S", "C9", "P1", "P2", 0]), "'cables', row 2, column E (core_count)", "out of range"),
    "count a half": (one("cables", CABLE, ["S", "C9", "P1", "P2", 12.5]), "'cables', row 2, column E (core_count)", "no whole number"),
    "count beyond any cable": (one("cables", CABLE, ["S", "C9", "P1", "P2", 5000]), "'cables', row 2, column E (core_count)", "out of range"),
    "count blank": (one("cables", CABLE, ["S", "C9", "P1", "P2", None]), "'cables', row 2, column E (core_count)", "is blank"),
    "count a date": (one("cables", CABLE, ["S", "C9", "P1", "P2", DAY]), "'cables', row 2, column E (core_count)", "no whole number"),
    "count true": (one("cables", CABLE, ["S", "C9", "P1", "P2", True]), "'cables', row 2, column E (core_count)", "no whole number"),
    "length with unit": (cable("length_m", "120 m"), "'cables', row 3, column F (length_m)", "no number"),
    "length with a line below": (cable("length_m", "1_000"), "'cables', row 3, column F (length_m)", "no number"),
    "length a date": (cable("length_m", DAY), "'cables', row 3, column F (length_m)", "no number"),
    "length a formula in words": (cable("length_m", "120+5"), "'cables', row 3, column F (length_m)", "no number"),
    "length an error in words": (cable("length_m", "#REF! "), "'cables', row 3, column F (length_m)", "no number"),
    "length in thousands": (cable("length_m", "1,500.0"), "'cables', row 3, column F (length_m)", "no number"),
    "length below nought": (cable("length_m", -5), "'cables', row 3, column F (length_m)", "out of range"),
    "decimal comma": (cable("length_m", "1,5"), "'cables', row 3, column F (length_m)", "0.35"),
    "length without end": (cable("length_m", "inf"), "'cables', row 3, column F (length_m)", "no number"),
    "word not listed": (cable("length_basis", "guess"), "'cables', row 3, column F (length_basis)", "measured"),
    "date the other way": (cable("installed_on", "31.03.2026"), "'cables', row 3, column F (installed_on)", "2026-03-31"),
    "date a day number": (cable("installed_on", 46112), "'cables', row 3, column F (installed_on)", "no date"),
    "date of month and year": (cable("installed_on", "March 2026"), "'cables', row 3, column F (installed_on)", "no date"),
    "date a number": (cable("installed_on", 12), "'cables', row 3, column F (installed_on)", "no date"),
    "date with a time": (cable("installed_on", dt.datetime(2026, 3, 31, 14, 30)), "'cables', row 3, column F (installed_on)", "holds a time of day (14:30) beside the date → write the date alone"),
    "date with a time in words": (cable("installed_on", "2026-03-31T14:30"), "'cables', row 3, column F (installed_on)", "holds a time of day (14:30)"),
    "date that is none": (cable("installed_on", "2026-02-30"), "'cables', row 3, column F (installed_on)", "no date"),
    "tubes in words": (cable("cores_per_tube", "a dozen"), "'cables', row 3, column F (cores_per_tube)", "no whole number"),
    "control character": (cable("notes", "bell _x0007_ here"), "'cables', row 3, column F (notes)", "control character"),
    "long note": (cable("notes", "x" * 32_001), "'cables', row 3, column F (notes)", "longer than"),
    "label a date": (one("cables", CABLE, ["S", DAY, "P1", "P2", 12]), "'cables', row 2, column B (cable)", "is a date here"),
    "label of two lines": (one("cables", CABLE, ["S", "C\n9", "P1", "P2", 12]), "'cables', row 2, column B (cable)", "line break"),
    "label too long": (one("cables", CABLE, ["S", "C" * 201, "P1", "P2", 12]), "'cables', row 2, column B (cable)", "longer than 200"),
    "site blank": (one("cables", CABLE, [None, "C9", "P1", "P2", 12]), "'cables', row 2, column A (site)", "is blank"),
    "cable blank": (one("cables", CABLE, ["S", " ", "P1", "P2", 12]), "'cables', row 2, column B (cable)", "is blank"),
    "after a blank row": ({"cables": [CABLE, [], [], ["S", "C9", "P1", "P2", "x"]]}, "'cables', row 4, column E (core_count)", "no whole number"),
    "polish unknown": (one("ports", ["site", "enclosure", "port", "polish"], ["S", "P1", 9, "XPC"]), "'ports', row 2, column D (polish)", "PC, UPC or APC"),
    "housing unknown": (one("enclosures", ["site", "enclosure", "kind"], ["S", "P9", "cabinet"]), "'enclosures', row 2, column C (kind)", "rack panel"),
    "trays below nought": (one("enclosures", ["site", "enclosure", "trays"], ["S", "P9", -1]), "'enclosures', row 2, column C (trays)", "out of range"),
    "neither yes nor no": (one("patches", [*PATCH, "temporary"], ["S", "X", 1, "P1", 1, None, None, "maybe"]), "'patches', row 2, column H (temporary)", "yes or no"),
    "wavelength of radio": (one("tests", ["site", "test", "wavelength_nm"], ["S", 1, 50]), "'tests', row 2, column C (wavelength_nm)", "out of range"),
    "direction unknown": (one("tests", ["site", "test", "direction"], ["S", 1, "up"]), "'tests', row 2, column C (direction)", "a to b"),
    "joint by glue": (one("splices", [*SPLICE, "method"], ["S", "P1", 1, 1, "C1", 5, "C2", 5, "glue"]), "'splices', row 2, column I (method)", "fusion or mechanical"),
    "loss out of range": (one("splices", [*SPLICE, "loss_db"], ["S", "P1", 1, 1, "C1", 5, "C2", 5, 99]), "'splices', row 2, column I (loss_db)", "dB"),
    "power in words": (one("interfaces", ["site", "equipment", "interface", "position", "launch_min_dbm"], ["S", "SW1", 9, "Tx", "low"]), "'interfaces', row 2, column E (launch_min_dbm)", "no number"),
    "position unknown": (one("interfaces", ["site", "equipment", "interface", "position"], ["S", "SW1", 9, "A"]), "'interfaces', row 2, column D (position)", "Tx, Rx or TxRx"),
    "core in words": (one("cores", ["site", "cable", "core"], ["S", "C1", "one"]), "'cores', row 2, column C (core)", "no whole number"),
    "core nought": (one("cores", ["site", "cable", "core"], ["S", "C1", 0]), "'cores', row 2, column C (core)", "out of range"),
    "own colour blank": (one("colour_codes", ["colour_code", "position", "colour"], ["ours", 1, None]), "'colour_codes', row 2, column C (colour)", "is blank"),
    "removal perhaps": (one("sites", ["site", "remove"], ["S", "perhaps"]), "'sites', row 2, column B (remove)", "write yes"),
    "removal by a number": (one("sites", ["site", "remove"], ["S", 2]), "'sites', row 2, column B (remove)", "'2' is neither"),
    "removal and change": (one("sites", ["site", "name", "remove"], ["S", "a", "yes"], ["S", "b", None]), "'sites', row 2", "stands in row 3 already"),
    "removal of no key": (one("sites", ["site", "remove"], [None, "yes"]), "'sites', row 2, column A (site)", "is blank"),
    "removal of a core that is not there": (one("cores", ["site", "cable", "core", "remove"], ["S", "C1", 13, "yes"]), "'cores', row 2", "no such core"),
    "removal of nothing": (one("sites", ["site", "remove"], ["T", "yes"]), "'sites', row 2", "no such site"),
    "value without a heading": (one("sites", ["site"], ["S", "stray"]), "'sites', row 2, column B", "names no column"),
    "key twice": (one("cables", CABLE, ENDS, ENDS), "'cables', row 3", "stands in row 2 already"),
    "key twice as text and number": (one("ports", ["site", "enclosure", "port"], ["S", "P1", 9], ["S", "P1", "9.0"]), "'ports', row 3", "stands in row 2 already"),
    "sheet misspelt": (one("cabels", CABLE, ENDS), "sheet 'cabels'", "did you mean 'cables'?"),
    "sheet with a capital": (one("Cables", CABLE, ENDS), "sheet 'Cables'", "did you mean 'cables'?"),
    "sheet of something else": (one("budget", ["a"], [1]), "sheet 'budget'", "no table 'budget'"),
    "column misspelt": (cable("lenght_m", 12), "'cables', row 1, column F (lenght_m)", "did you mean 'length_m'?"),
    "column with a capital": (one("sites", ["Site"], ["S"]), "'sites', row 1, column A (Site)", "did you mean 'site'?"),
    "column by its number": (one("sites", ["site", 7], ["S", 1]), "'sites', row 1, column B (7)", "no column '7'"),
    "key column missing": (one("cables", ["cable", "core_count"], ["C9", 12]), "'cables', row 1", "key column 'site' is missing"),
    "column twice": (one("sites", ["site", "name", "name "], ["S", "a", "b"]), "'sites', row 1, column C (name)", "stands twice"),
    "header blank": (one("sites", [], ["S"]), "'sites', row 1", "row 1 is blank"),
    "sheet twice": ({"sites": [["site"], ["S"]], "sites ": [["site"], ["S"]]}, "sheet 'sites '", "keep one"),
}  # fmt: skip

RULES = {
    "location missing": (one("enclosures", ["site", "enclosure", "location"], ["S", "P9", "Attic"]), "'enclosures', row 2, column C (location)", "no location 'Attic'"),
    "enclosure missing": (one("cables", CABLE, ["S", "C9", "P7", "P2", 12]), "'cables', row 2, column C (a_enclosure)", "no enclosure 'P7'"),
    "port in no enclosure": (one("ports", ["site", "enclosure", "port"], ["S", "P7", 1]), "'ports', row 2, column B (enclosure)", "no enclosure 'P7'"),
    "site missing": (one("equipment", ["site", "equipment"], ["T", "SW9"]), "'equipment', row 2, column A (site)", "no site 'T'"),
    "made off on no port": (one("terminations", TERMINATION, ["S", "P1", 99, "C1", 5]), "'terminations', row 2", "no port"),
    "made off beyond the cable": (one("terminations", TERMINATION, ["S", "P1", 4, "C1", 13]), "'terminations', row 2, column E (core)", "no core 13"),
    "made off where the cable is not": (one("terminations", TERMINATION, ["S", "P3", 1, "C1", 5]), "'terminations', row 2, column D (cable)", "no end"),
    "core made off twice": (one("terminations", TERMINATION, ["S", "P1", 4, "C1", 1]), "row 2", "joined twice"),
    "spliced to itself": (one("splices", SPLICE, ["S", "P1", 1, 1, "C1", 5, "C1", 5]), "'splices', row 2", "itself"),
    "spliced elsewhere": (one("splices", SPLICE, ["S", "P3", 1, 1, "C1", 5, "C2", 5]), "'splices', row 2", "no end"),
    "spliced to no cable": (one("splices", SPLICE, ["S", "P1", 1, 1, "C1", 5, "C7", 5]), "'splices', row 2, column G (b_cable)", "no cable 'C7'"),
    "cord from nowhere": (one("patches", PATCH, ["S", "X", 1, None, None, "P1", 1]), "'patches', row 2, column D (a_at)", "end a is blank"),
    "cord to no port": (one("patches", PATCH, ["S", "X", 1, "P1", 3, "P1", 99]), "'patches', row 2", "no port or interface"),
    "cord to itself": (one("patches", PATCH, ["S", "X", 1, "P1", 3, "P1", 3]), "'patches', row 2", "itself"),
    "two cords in a port": (one("patches", PATCH, ["S", "X", 1, "P1", 3, None, None], ["S", "Y", 1, "P1", 3, None, None]), "'patches', row", "joined twice"),
    "channel to nowhere": (one("channels", CHANNEL, ["S", "N", "SW1", 1, "SW2", 9]), "'channels', row 2", "no interface"),
    "channel to itself": (one("channels", CHANNEL, ["S", "N", "SW1", 2, "SW1", 2]), "'channels', row 2", "same interface"),
    "channels share": (one("channels", CHANNEL, ["S", "N", "SW1", 2, "SW2", 1], ["S", "M", "SW1", 2, "SW2", 2]), "'channels', row", "shares an interface"),
    "one name for two things": (one("equipment", ["site", "equipment"], ["S", "P1"]), "P1", "same name"),
    "tubes do not add up": (cable("tube_sizes", "6, 7"), "'cables', row 3, column F (tube_sizes)", "add up"),
    "cable cut below its joints": (one("cables", ["site", "cable", "core_count"], ["S", "C1", 2]), "terminations", "no core 3"),
    "both ends in one place": (one("terminations", TERMINATION, ["S", "P1", 4, "C3", 1]), "'terminations', row 2", "write A or B"),
    "port made off twice": (one("terminations", TERMINATION, ["S", "P3", 1, "C4", 1], ["S", "P3", 2, "C4", 1]), "row", "joined twice"),
    "channel's interface taken": (one("channels", CHANNEL, ["S", "N", "SW1", 1, "SW2", 1], ["S", "M", "SW2", 1, "SW1", 2]), "'channels', row", "shares an interface"),
    "site removed under everything": (one("sites", ["site", "remove"], ["S", "yes"]), "in the register, enclosures S/P1", "no site 'S'"),
    "port removed under its core": (one("ports", ["site", "enclosure", "port", "remove"], ["S", "P1", 1, "yes"]), "in the register, terminations S/P1/1", "no port"),
    "cable removed under its joints": (one("cables", ["site", "cable", "remove"], ["S", "C1", "yes"]), "in the register, terminations S/P1/1", "no cable 'C1'"),
    "equipment removed under its interfaces": (one("equipment", ["site", "equipment", "remove"], ["S", "SW1", "yes"]), "in the register, interfaces S/SW1/1", "no equipment 'SW1'"),
    "test removed under its events": (one("tests", ["site", "test", "remove"], ["S", 0, "yes"]), "in the register, events S/0/1", "no test '0'"),
    "enclosure removed under its ports": (one("enclosures", ["site", "enclosure", "remove"], ["S", "P1", "yes"]), "in the register, ports", "no enclosure 'P1'"),
    "core of no cable": (one("cores", ["site", "cable", "core", "notes"], ["S", "C7", 1, "x"]), "'cores', row 2, column B (cable)", "no cable 'C7'"),
    "core beyond the cable": (one("cores", ["site", "cable", "core", "notes"], ["S", "C1", 13, "x"]), "'cores', row 2, column C (core)", "no core 13"),
    "test at no port": (one("tests", ["site", "test", "from_at", "from_port"], ["S", 1, "P1", 99]), "'tests', row 2", "no port"),
    "new cable without a count": (one("cables", ["site", "cable"], ["S", "C9"]), "'cables', row 2", "lacks 'core_count'"),
}  # fmt: skip
