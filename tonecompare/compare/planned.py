"""Which stages are compared."""

from __future__ import annotations

from tonecompare.session.model import ComparisonSpec, Session


def planned_comparisons(session: Session) -> tuple[ComparisonSpec, ...]:
    """Return the comparisons of a session; without any, each stage against the one it came from."""
    if session.comparisons:
        return session.comparisons
    return tuple(
        ComparisonSpec(stage.from_stage, name)
        for name, stage in session.stages.items()
        if stage.from_stage in session.stages and stage.from_stage is not None
    )
