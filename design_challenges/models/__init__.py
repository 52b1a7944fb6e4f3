"""The challenges' side of the database: settings, iterations, measurements, trials and working."""

from __future__ import annotations

from design_challenges.models.challenge import ChallengeSettings, ClassChallenge, Revision, StepGate
from design_challenges.models.entries import Submission
from design_challenges.models.evidence import ExitAnswer, ExitQuestion, SawIt
from design_challenges.models.iteration import (
    Clearance,
    DesignIteration,
    HelpCall,
    Measurement,
    Note,
    Photo,
    Working,
)
from design_challenges.models.marking import Criterion, Mark, MarkColumns, Remark, Rubric
from design_challenges.models.reference import ReferenceDrop
from design_challenges.models.station import QueueMove
from design_challenges.models.trials import Drop, Judgement, Reading

__all__ = [
    "ChallengeSettings",
    "ClassChallenge",
    "Clearance",
    "Criterion",
    "DesignIteration",
    "Drop",
    "ExitAnswer",
    "ExitQuestion",
    "HelpCall",
    "Judgement",
    "Mark",
    "MarkColumns",
    "Measurement",
    "Note",
    "Photo",
    "QueueMove",
    "Reading",
    "ReferenceDrop",
    "Remark",
    "Revision",
    "Rubric",
    "SawIt",
    "StepGate",
    "Submission",
    "Working",
]
