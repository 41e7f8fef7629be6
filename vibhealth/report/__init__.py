"""One view, many forms: terminal text, HTML, JSON, figures, CSV; and documents written whole."""

from vibhealth.acceptance import CAUTIONS
from vibhealth.report._wording import clean, file_stem
from vibhealth.report.baseline_text import (
    baseline_dict,
    baseline_list_dict,
    baseline_list_text,
    baseline_text,
)
from vibhealth.report.card_text import (
    bearing_frequencies_dict,
    bearing_frequencies_text,
    card_check_dict,
    card_check_text,
    frequencies_dict,
    frequencies_text,
)
from vibhealth.report.compare_figures import compare_images
from vibhealth.report.compare_text import compare_html, compare_text
from vibhealth.report.compare_view import CompareView, compare_csv, compare_dict, compare_view
from vibhealth.report.figures import (
    EnvelopeTrace,
    FamilyMark,
    LevelBar,
    Trace,
    plot_envelope_spectra,
    plot_levels,
    plot_orbit,
    plot_order_spectrum,
    plot_waveform,
)
from vibhealth.report.files import write_document, write_report_folder
from vibhealth.report.html import analysis_html, html_text
from vibhealth.report.images import (
    FigureImage,
    analysis_images,
    assessment_figures,
    assessment_images,
    family_marks,
    marks_with_side_bands,
)
from vibhealth.report.json_document import (
    SCHEMA_VERSION,
    assessment_dict,
    dumps,
    recording_dict,
    schema,
)
from vibhealth.report.plan_html import plan_html
from vibhealth.report.plan_text import plan_dict, plan_text
from vibhealth.report.plan_view import PlanView, plan_view
from vibhealth.report.recording_view import RecordingView, analysis_view
from vibhealth.report.reference_images import reference_images, signature_images
from vibhealth.report.tables import analysis_csv
from vibhealth.report.terminal import analysis_text, channel_text, terminal_text
from vibhealth.report.view import ReportView, report_view

__all__ = [
    "CAUTIONS",
    "SCHEMA_VERSION",
    "CompareView",
    "EnvelopeTrace",
    "FamilyMark",
    "FigureImage",
    "LevelBar",
    "PlanView",
    "RecordingView",
    "ReportView",
    "Trace",
    "analysis_csv",
    "analysis_html",
    "analysis_images",
    "analysis_text",
    "analysis_view",
    "assessment_dict",
    "assessment_figures",
    "assessment_images",
    "baseline_dict",
    "baseline_list_dict",
    "baseline_list_text",
    "baseline_text",
    "bearing_frequencies_dict",
    "bearing_frequencies_text",
    "card_check_dict",
    "card_check_text",
    "channel_text",
    "clean",
    "compare_csv",
    "compare_dict",
    "compare_html",
    "compare_images",
    "compare_text",
    "compare_view",
    "dumps",
    "family_marks",
    "file_stem",
    "frequencies_dict",
    "frequencies_text",
    "html_text",
    "marks_with_side_bands",
    "plan_dict",
    "plan_html",
    "plan_text",
    "plan_view",
    "plot_envelope_spectra",
    "plot_levels",
    "plot_orbit",
    "plot_order_spectrum",
    "plot_waveform",
    "recording_dict",
    "reference_images",
    "report_view",
    "schema",
    "signature_images",
    "terminal_text",
    "write_document",
    "write_report_folder",
]
