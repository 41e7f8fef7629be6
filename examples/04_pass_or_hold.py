"""PASS or HOLD from recordings before and after a rebuild, and a report as one HTML file."""

import sys
from pathlib import Path

from vibhealth.acceptance import assess
from vibhealth.card import read_card
from vibhealth.recording import ChannelRequest, read_recording
from vibhealth.report import assessment_images, html_text, report_view, write_document

folder = Path(__file__).parent
card = read_card(folder / "F3.toml")
requests = [ChannelRequest(channel=1, point="P1X", direction="x")]
before = read_recording(folder / "as-found.flac", requests=requests)
after = read_recording(folder / "as-left-clean.flac", requests=requests)

assessment = assess(before, after, card=card)
print(assessment.headline)
for criterion in assessment.criteria:
    print(f"  {criterion.result.value:10} {criterion.title}")

if len(sys.argv) > 1:  # where to write the report
    view = report_view(assessment, generated_at="2031-03-05 15:00 UTC", version="example")
    write_document(sys.argv[1], html_text(view, assessment_images(assessment)))
