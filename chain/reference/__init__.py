"""What may be written in a layout, from the declarations that reading works from.

Others use `kinds_text` and `schema`.
"""
