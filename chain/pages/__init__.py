"""Pages made of blocks, written as HTML, Markdown and CSV, in a folder of their own.

Others use `blocks`, `charts`, `sheets.as_csv`, `folder.write_folder` and `provenance`.
"""
