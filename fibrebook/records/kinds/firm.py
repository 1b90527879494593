"""Kinds of record that belong to the firm and to no site: its colour codes, choices and reference values."""

from __future__ import annotations

from fibrebook.records.kinds.declared import Column, Kind

NOTES = Column("notes", "text", "Anything else worth knowing.")
# What a firm may choose; the answers read them by these names (analyses/firm.py says what each may hold).
CHOICE_NAMES = ("sources", "margin_db", "acceptance", "uncertainty_db", "photo_details", "colour_code")
PHOTO_DETAILS = ("remove", "keep")  # what the camera wrote into a photo; the first is the default
REFERENCE_TABLES = (
    "attenuation", "component_losses", "group_index", "modal_bandwidth", "fibre_classes", "applications",
    "application_limits", "application_powers", "practice",
)  # fmt: skip


def _power(name: str, help: str) -> Column:
    return Column(name, "number", help, unit="dBm", minimum=-60, maximum=30)


COLOUR_CODES = Kind(
    "colour_codes", "colour", "The firm's own colour codes, one row a position, beside the published ones.",
    (
        Column("colour_code", "label", "Name of the firm's code.", required=True),
        Column("position", "integer", "Position in the order, from 1.", required=True, minimum=1, maximum=144),
        Column("colour", "text", "Colour at that position.", required=True),
        NOTES,
    ),
    key=("colour_code", "position"),
    scope="firm",
)  # fmt: skip

CHOICES = Kind(
    "choices", "choice", "What the firm has chosen where standards or practice differ, one row a choice.",
    (
        Column("choice", "label", f"What is chosen: {', '.join(CHOICE_NAMES)}.", required=True),
        Column("value", "text", "What it is set to.", required=True),
        NOTES,
    ),
    key=("choice",),
    scope="firm",
)  # fmt: skip

REFERENCE_VALUES = Kind(
    "reference_values", "reference value",
    "The firm's own rows of the reference tables: a transceiver's data sheet, a cable maker's figures.",
    (
        Column("row", "label", "Number or label of the row.", required=True),
        Column("reference_table", "text", "Reference table that it extends.", allowed=REFERENCE_TABLES, required=True),
        Column("application", "text", "Application or type of transceiver."),
        Column("aliases", "text", "Other names of it, parted by semicolons."),
        Column("family", "text", "Application whose limits it shares."),
        Column("standard", "text", "Standard that defines it, or none."),
        Column("fibres", "integer", "Fibres for both directions together.", minimum=1, maximum=144),
        Column("lanes", "integer", "Lanes in one direction.", minimum=1, maximum=72),
        Column("mode", "text", "multimode, single-mode, or both parted by a semicolon."),
        Column("wavelengths_nm", "text", "Wavelengths sent [nm], parted by semicolons."),
        Column("wavelengths_are", "text", "What several are.", allowed=("lanes", "directions")),
        Column("receive_wavelengths_nm", "text", "Wavelengths received [nm], parted by semicolons."),
        Column("fibre_class", "text", "Fibre class, core (50 um) or mode it holds for."),
        Column("fibre", "text", "The same, in a row of powers."),
        Column("core_um", "number", "Core diameter.", unit="um", minimum=1, maximum=1000),
        Column("mode_field_um", "number", "Mode-field diameter.", unit="um", minimum=1, maximum=30),
        Column("numerical_aperture", "number", "Numerical aperture.", minimum=0.01, maximum=1),
        Column("wavelength_nm", "number", "Wavelength.", unit="nm", minimum=600, maximum=1700),
        Column("wavelength_to_nm", "number", "Wavelength up to which it holds.", unit="nm", minimum=600, maximum=1700),
        Column("launch", "text", "Launch that a modal bandwidth was measured with."),
        Column("component", "text", "Component: connection, fusion splice..."),
        Column("grade", "text", "Grade: of attenuation (maximum, typical) or of a connector."),
        Column("quantity", "text", "Which figure: limit, typical, mean, 97 %..."),
        Column("name", "text", "Name of a value of practice."),
        Column("value", "number", "The value, where no column of its own holds it."),
        Column("unit", "text", "Unit of the value."),
        Column("attenuation_db_per_km", "number", "Attenuation.", unit="dB/km", minimum=0, maximum=100),
        Column("group_index", "number", "Group index.", minimum=1, maximum=2),
        Column("modal_bandwidth_mhz_km", "number", "Modal bandwidth.", unit="MHz.km", minimum=0, maximum=100_000),
        Column("length_max_m", "number", "Greatest length.", unit="m", minimum=0, maximum=500_000),
        Column("insertion_loss_max_db", "number", "Greatest channel insertion loss.", unit="dB", minimum=0, maximum=60),
        Column("penalty_db", "number", "Kept for dispersion and noise.", unit="dB", minimum=0, maximum=40),
        _power("launch_min_dbm", "Least launch power."),
        _power("launch_max_dbm", "Greatest launch power."),
        _power("receive_min_dbm", "Least power the receiver needs."),
        _power("receive_max_dbm", "Greatest power the receiver bears."),
        _power("damage_dbm", "Power that damages the receiver."),
        Column("preferred_as", "text", "Name by which the choice 'sources' picks this row."),
        Column("source", "text", "Where the value comes from: data sheet, standard.", required=True),
        Column(
            "basis", "text", "How it is known.", required=True,
            allowed=("seen", "seen in a secondary text", "memory", "calculated", "common practice"),
        ),
        NOTES,
    ),
    key=("row",),
    scope="firm",
)  # fmt: skip
