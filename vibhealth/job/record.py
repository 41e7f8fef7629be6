"""What a job record holds: who did what when, torques, oil, clearances, temperatures."""

from typing import Annotated, Literal

from pydantic import Field, PrivateAttr, model_validator

from vibhealth.card import MachineCard
from vibhealth.card._types import CardModel, Faults
from vibhealth.job._consistency import answer_faults, time_faults
from vibhealth.job._types import (
    Answer,
    Litres,
    Millimetres,
    Name,
    Note,
    OrNone,
    Temperature,
    Time,
    Torque,
)

__all__ = [
    "Answer",
    "CheckAnswer",
    "ClearanceRecord",
    "JobFacts",
    "JobRecord",
    "OilRecord",
    "Override",
    "TemperatureReading",
    "TorqueSheet",
]


class JobModel(CardModel):
    """A table of the record: frozen, unknown keys refused, everything may be missing."""


class Signed(JobModel):
    """Who wrote a table of the record, when, and what else there was to say."""

    by: Name = ""
    at: Annotated[Time | None, OrNone] = None
    remark: Note = ""


class CheckAnswer(Signed):
    """``[check.<item>]``: the answer to one question of the check list."""

    answer: Answer = "not checked"


class TorqueSheet(Signed):
    """``[torque.<group>]``: how one group of bolts was tightened.

    ``stages`` has one row per stage of the card and in it one torque per bolt, in
    ``unit``, in the order in which the bolts are numbered. An empty row is a
    stage that is not given yet.
    """

    unit: Literal["N m", "ft lb"] = "N m"
    threads: Literal["", "dry", "oiled"] = ""
    wrench: Note = ""
    new_bolts: Answer = "not checked"
    repeat_pass: Answer = "not checked"
    stages: tuple[tuple[Torque, ...], ...] = ()


class OilRecord(Signed):
    """``[oil]``: what went in, and what came out."""

    grade: Note = ""
    drained_l: Annotated[Litres | None, OrNone] = None
    filled_l: Annotated[Litres | None, OrNone] = None


class ClearanceRecord(Signed):
    """``[clearance]``: gaps between moving parts and guard, mm, at rest, all the way round."""

    guard_mm: tuple[Millimetres, ...] = ()


class TemperatureReading(JobModel):
    """``[[temperature]]``: housing and surroundings, degrees Celsius, at one time."""

    at: Time
    housing_c: Temperature
    ambient_c: Annotated[Temperature | None, OrNone] = None


class Override(JobModel):
    """``[override]``: who answers for running on against a HOLD, and why."""

    by: Name = ""
    reason: Note = ""
    at: Annotated[Time | None, OrNone] = None


class JobFacts(JobModel):
    """``[job]``: what no recording can say of the job.

    ``card`` is the name of the machine card beside the record. ``load`` is the
    state in which the recordings for the decision were made.
    """

    machine: Note = ""
    card: Note = ""
    unit_serial: Note = ""
    bearing_designation: Note = ""
    rebuilt_by: Name = ""
    braces_removed_by: Name = ""
    rebuild_finished: Annotated[Time | None, OrNone] = None
    machine_started: Annotated[Time | None, OrNone] = None
    load: Literal["", "empty", "loaded"] = ""
    point_checked: Answer = "not checked"
    noise: Note = ""
    remarks: Note = ""


class JobRecord(JobModel):
    """The whole record of one job; made by `read_job`, never by hand.

    ``check`` holds answers by the id of a `JobItem`, ``torque`` sheets by the
    short name of a bolt group (`bolt_group_ids`). What is not there is not given.
    """

    schema_version: Literal[1]
    job: JobFacts = JobFacts()
    check: dict[str, CheckAnswer] = Field(default_factory=dict)
    torque: dict[str, TorqueSheet] = Field(default_factory=dict)
    oil: OilRecord = OilRecord()
    clearance: ClearanceRecord = ClearanceRecord()
    temperature: tuple[TemperatureReading, ...] = ()
    override: Override | None = None

    _path: str = PrivateAttr(default="")
    _sha256: str = PrivateAttr(default="")
    _card: MachineCard | None = PrivateAttr(default=None)

    @model_validator(mode="after")
    def _tables_agree(self) -> "JobRecord":
        faults = [*answer_faults(self), *time_faults(self)]
        if faults:
            raise Faults(faults)
        return self

    @property
    def path(self) -> str:
        """The record's file."""
        return self._path

    @property
    def sha256(self) -> str:
        """Digest of that file's bytes."""
        return self._sha256

    @property
    def machine_card(self) -> MachineCard | None:
        """The machine card beside the record; None where ``job.card`` names none."""
        return self._card

    def answer(self, item_id: str) -> CheckAnswer:
        """The answer to one item; "not checked" where the record has none.

        Parameters
        ----------
        item_id : str
            Of a `JobItem`.

        Returns
        -------
        CheckAnswer
        """
        return self.check.get(item_id, CheckAnswer())
