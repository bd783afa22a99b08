"""Reasons why something was not measured or flown, told apart by their words and not by their figures."""

from __future__ import annotations

import re

# what stands between quotation marks, or a number that is no part of a name, as in "slow-3d" and "upline-45"
_QUOTED_OR_NUMBER = re.compile(r'("[^"]*")|(?<![\w.-])-?\d+(\.\d+)?(e[+-]?\d+)?(?![\w-]|\.\d)')


def of_a_kind(reason: str) -> str:
    """A reason without its numbers, so that those of one kind can be counted; names stay as they are."""
    return _QUOTED_OR_NUMBER.sub(lambda found: found[1] or "..", reason)
