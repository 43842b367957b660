"""The outcome room: one word for a program, `run`, `look` or `stop`, and what it comes from.

Proof, simulation, set-up and what was changed on the way are put together here and nowhere else.
"""

from steadyrest.outcome.outcome import Outcome, Word, finding_text, judge, outcome_line

__all__ = ["Outcome", "Word", "finding_text", "judge", "outcome_line"]
