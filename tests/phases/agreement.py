"""How a found flight agrees with its truth: seconds, boundaries, passages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from debrief.phases.model import FoundAttempt
from debrief.pipeline import look
from debrief.procedures.model import Phase
from tests.ensembles import Case

STEP_S = 0.2


@dataclass(frozen=True)
class Agreement:
    name: str
    same_phases: bool
    wrong_s: float
    total_s: float
    boundary_errors_s: tuple[float, ...]  # beyond the sample interval
    passage_errors_s: tuple[float, ...]
    interval_s: float


def labels(phases: Iterable[tuple[str, float, float]], t_s: np.ndarray) -> np.ndarray:
    label = np.full(len(t_s), "", dtype=object)
    for phase, start_s, end_s in phases:
        label[(t_s >= start_s) & (t_s < end_s)] = phase
    return label


def final_start_s(attempt: FoundAttempt) -> float:
    final = attempt.last(Phase.FINAL)
    return attempt.end_s if final is None else final.start_s


def true_final_start_s(phases: Sequence[tuple[str, float, float]]) -> float:
    return next((p[1] for p in phases if p[0] == "final"), phases[-1][2])


def agreement(case: Case) -> Agreement:
    flight = look(case.track, case.procedure)
    ours = [(str(s.phase), s.start_s, s.end_s) for attempt in flight.attempts for s in attempt.spans]
    true = [(str(p[0]), p[1], p[2]) for attempt in case.truth.attempts for p in attempt.phases]
    t_s = np.arange(case.track.t_s.min(), case.track.t_s.max(), STEP_S)
    wrong = labels(ours, t_s) != labels(true, t_s)
    same = [p[0] for p in ours] == [p[0] for p in true]
    interval_s = flight.log.median_interval_s
    boundaries = (
        [max(0.0, abs(a[1] - b[1]) - interval_s) for a, b in zip(ours, true, strict=True)] if same else []
    )
    # those that bound phases: up to the final of each attempt
    ours_s = [p.t_s for a in flight.attempts for p in a.passages if not p.missed and p.t_s < final_start_s(a)]
    true_s = [
        p.time_s for a in case.truth.attempts for p in a.passages if p.time_s < true_final_start_s(a.phases)
    ]
    passages = [abs(a - b) for a, b in zip(ours_s, true_s, strict=False)]
    return Agreement(
        name=case.name,
        same_phases=same and len(ours_s) == len(true_s),
        wrong_s=float(wrong.sum() * STEP_S),
        total_s=float(len(t_s) * STEP_S),
        boundary_errors_s=tuple(boundaries),
        passage_errors_s=tuple(passages),
        interval_s=interval_s,
    )


def share_right(agreements: Iterable[Agreement]) -> float:
    agreements = list(agreements)
    return 1.0 - sum(a.wrong_s for a in agreements) / sum(a.total_s for a in agreements)
