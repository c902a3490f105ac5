"""What programs get of every verb, told field by field.

Others use `fields.fields_of`, `fields.call_of` and the texts of `fields_text`.
"""
