"""The job record: what hands and eyes did and saw, beside the recordings."""

from vibhealth.job.items import DUE, ITEM_BY_ID, ITEMS, JobItem, Phase, items_of
from vibhealth.job.record import (
    Answer,
    CheckAnswer,
    ClearanceRecord,
    JobFacts,
    JobRecord,
    OilRecord,
    Override,
    TemperatureReading,
    TorqueSheet,
)

__all__ = [
    "DUE",
    "ITEMS",
    "ITEM_BY_ID",
    "Answer",
    "CheckAnswer",
    "ClearanceRecord",
    "JobFacts",
    "JobItem",
    "JobRecord",
    "OilRecord",
    "Override",
    "Phase",
    "TemperatureReading",
    "TorqueSheet",
    "items_of",
]
