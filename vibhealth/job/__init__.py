"""The job record: what hands and eyes did and saw, beside the recordings."""

from vibhealth.job.asking import Asked, Console, ask_job
from vibhealth.job.editing import edit_record
from vibhealth.job.example import filled_record
from vibhealth.job.folder import JobFile, job_files
from vibhealth.job.items import DUE, EARLIEST_SHARE, ITEM_BY_ID, ITEMS, JobItem, Phase, items_of
from vibhealth.job.new import new_job
from vibhealth.job.reading import read_job
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
from vibhealth.job.status import JobStatus, job_status, status_dict, status_text
from vibhealth.job.template import job_template
from vibhealth.job.torque import FT_LB_NM, bolt_group_ids

__all__ = [
    "DUE",
    "EARLIEST_SHARE",
    "FT_LB_NM",
    "ITEMS",
    "ITEM_BY_ID",
    "Answer",
    "Asked",
    "CheckAnswer",
    "ClearanceRecord",
    "Console",
    "JobFacts",
    "JobFile",
    "JobItem",
    "JobRecord",
    "JobStatus",
    "OilRecord",
    "Override",
    "Phase",
    "TemperatureReading",
    "TorqueSheet",
    "ask_job",
    "bolt_group_ids",
    "edit_record",
    "filled_record",
    "items_of",
    "job_files",
    "job_status",
    "job_template",
    "new_job",
    "read_job",
    "status_dict",
    "status_text",
]
