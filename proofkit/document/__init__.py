"""A written page as plain values, and the same page as Markdown, HTML, LaTeX and PDF."""
