"""One view, many forms: terminal text, HTML, JSON, figures, CSV."""
