"""Plain text, values as text, foreign text made safe, JSON, files written whole."""
