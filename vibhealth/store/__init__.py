"""The history: one append-only file of what was recorded, decided, rebuilt and found."""

from vibhealth.store.backup import backup_history
from vibhealth.store.entry import AddResult, EntryKind, Withdrawal
from vibhealth.store.export import export_csv, export_json
from vibhealth.store.history import DEFAULT_STORE, History
from vibhealth.store.integrity import Integrity, check_integrity

__all__ = [
    "DEFAULT_STORE",
    "AddResult",
    "EntryKind",
    "History",
    "Integrity",
    "Withdrawal",
    "backup_history",
    "check_integrity",
    "export_csv",
    "export_json",
]
