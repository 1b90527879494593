"""Advice checks: each takes a Situation and yields what is worth a second look. They come in by the plugin door."""

from fibrebook.analyses.checks.channels import CHANNEL_CHECKS
from fibrebook.analyses.checks.crossed import cores_crossed
from fibrebook.analyses.checks.joints import JOINT_CHECKS
from fibrebook.analyses.checks.loose_ends import LOOSE_END_CHECKS
from fibrebook.analyses.checks.tested import TEST_CHECKS

CHECKS = (*CHANNEL_CHECKS, *JOINT_CHECKS, cores_crossed, *LOOSE_END_CHECKS, *TEST_CHECKS)
