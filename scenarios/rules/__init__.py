"""Setups checked by rules: files of limits, flown once a manoeuvre, judged with headroom, and held against a baseline."""

from scenarios.rules.baseline import (
    BaselineFile,
    Drift,
    baseline_text,
    changed,
    check_replaceable,
    check_same,
    drifts,
    read_baseline,
)
from scenarios.rules.checking import DRAWS, SEED, Check, Conditions, Plan, check, exit_code, plan
from scenarios.rules.judging import FAILED, HOLDS, UNFLOWN, WARNING, Judgement, Share, judge, share_of
from scenarios.rules.loading import Rule, known_rules, load_rules
from scenarios.rules.readings import Reading, Readings, Told, named_apart
from scenarios.rules.schema import RulesFile

__all__ = [
    "DRAWS",
    "FAILED",
    "HOLDS",
    "SEED",
    "UNFLOWN",
    "WARNING",
    "BaselineFile",
    "Check",
    "Conditions",
    "Drift",
    "Judgement",
    "Plan",
    "Reading",
    "Readings",
    "Rule",
    "RulesFile",
    "Share",
    "Told",
    "baseline_text",
    "changed",
    "check",
    "check_replaceable",
    "check_same",
    "drifts",
    "exit_code",
    "judge",
    "known_rules",
    "load_rules",
    "named_apart",
    "plan",
    "read_baseline",
    "share_of",
]
