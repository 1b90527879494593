"""Analyses: answers computed from the register's records."""

from __future__ import annotations
