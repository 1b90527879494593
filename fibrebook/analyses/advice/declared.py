"""Which advice checks of ours there are. They come in by the plugin door; each takes a Situation and yields Advice."""

from fibrebook.plugins import AdviceCheck

ROOM = "fibrebook.analyses.advice"
OUR_CHECKS = (
    AdviceCheck(
        "path not complete",
        f"{ROOM}.channels:path_not_complete",
        "A channel whose light does not arrive at its other interface.",
    ),
    AdviceCheck("polarity wrong", f"{ROOM}.channels:polarity_wrong", "A channel where transmit meets transmit."),
    AdviceCheck(
        "channel without light",
        f"{ROOM}.channels:channel_without_light",
        "A channel none of whose interface positions sends: nothing can be traced.",
    ),
    AdviceCheck(
        "loss over the limit",
        f"{ROOM}.channels:loss_over_the_limit",
        "A channel that loses more than its application or its transceivers allow, or is too long.",
    ),
    AdviceCheck(
        "little headroom", f"{ROOM}.channels:little_headroom", "A channel that would not bear one more connection."
    ),
    AdviceCheck(
        "light too strong", f"{ROOM}.channels:light_too_strong", "A receiver that may get more light than it bears."
    ),
    AdviceCheck(
        "not specified",
        f"{ROOM}.channels:not_specified",
        "An application that its fibre was never specified for, or that nobody knows.",
    ),
    AdviceCheck("untested", f"{ROOM}.channels:untested", "A channel whose path was never loss-tested."),
    AdviceCheck("test failed", f"{ROOM}.channels:test_failed", "A test whose verdict was fail."),
    AdviceCheck(
        "fibres that differ",
        f"{ROOM}.joints:fibres_that_differ",
        "Splices, terminations and cords between fibres of different mode or core.",
    ),
    AdviceCheck(
        "polish mismatch",
        f"{ROOM}.joints:polish_mismatch",
        "A cord between an angled (APC) and a flat (PC, UPC) end face.",
    ),
    AdviceCheck(
        "colour order differs",
        f"{ROOM}.joints:colour_order_differs",
        "Cores that are made off in another order at end B than at end A.",
    ),
    AdviceCheck(
        "cord between places",
        f"{ROOM}.cords:cord_between_places",
        "A cord whose ends are in two rooms, as where equipment was moved; one too short for the way between them.",
    ),
    AdviceCheck(
        "cord does not fit",
        f"{ROOM}.cords:cord_does_not_fit",
        "A cord whose end faces or fibre are recorded, in a port of another polish or class.",
    ),
    AdviceCheck("length is nothing", f"{ROOM}.cords:length_of_nothing", "A cable or cord that is said to be 0 m long."),
    AdviceCheck(
        "same wavelength both ways",
        f"{ROOM}.channels:same_wavelength_both_ways",
        "A channel on one strand whose optics both send the same wavelength.",
    ),
    AdviceCheck("loops", f"{ROOM}.joints:loops", "A path that closes on itself."),
    AdviceCheck(
        "cores crossed",
        f"{ROOM}.crossed:cores_crossed",
        "Cores that take one another's places where two cables are spliced and most joints are in order.",
    ),
    AdviceCheck(
        "temporary patch",
        f"{ROOM}.loose_ends:temporary_patch",
        "A cord that was meant for a while and is older than a month.",
    ),
    AdviceCheck("half terminated", f"{ROOM}.loose_ends:half_terminated", "Cores made off at one end only."),
    AdviceCheck(
        "no spare cores", f"{ROOM}.loose_ends:no_spare_cores", "A site with cable, none of whose cores is spare."
    ),
    AdviceCheck(
        "faulty core in use",
        f"{ROOM}.loose_ends:faulty_core_in_use",
        "A core said to be faulty on the path of a channel.",
    ),
    AdviceCheck(
        "gaps in cables",
        f"{ROOM}.loose_ends:gaps_in_cables",
        "Cables without a length, of an unknown fibre class or colour code.",
    ),
    AdviceCheck(
        "test over its limit",
        f"{ROOM}.tested:test_over_its_limit",
        "A loss test over the limit of its stretch, or too near to it, though it was not written down so.",
    ),
    AdviceCheck(
        "tested before disturbed",
        f"{ROOM}.tested:tested_before_disturbed",
        "Cores tested before a joint or cord in the tested stretch was made anew.",
    ),
    AdviceCheck(
        "impossible loss",
        f"{ROOM}.tested:impossible_loss",
        "A joint that gains light, or loses more than anybody would leave.",
    ),
    AdviceCheck(
        "labels alike",
        f"{ROOM}.alike:labels_alike",
        "Records of one kind whose labels differ by capitals, spaces, raised digits or what is not seen alone.",
    ),
    AdviceCheck(
        "value left out",
        f"{ROOM}.left_out:value_left_out",
        "A reference value or choice of the firm's own that stands in the register and that no table can take.",
    ),
    AdviceCheck(
        "against a hard rule",
        f"{ROOM}.older_breaches:against_a_hard_rule",
        "A record that breaks a hard rule and may stand because it stood before the rule.",
    ),
)
