"""Plain text, values as text, foreign text made safe, JSON, files written whole.

Others use `text`, `numbers`, `json_text.as_json` and `files.write_whole`.
"""
