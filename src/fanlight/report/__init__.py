"""Letter, summary and study sheet from one structure: HTML, PDF and JSON."""
